"""Advice on the platform's side: asked, kept up to date, spoken."""
