"""Galley Loads."""
