"""Meals: which runs belong together, what they took, and the book of them."""
