"""Meals on the platform's side: filed, expected, exported."""
