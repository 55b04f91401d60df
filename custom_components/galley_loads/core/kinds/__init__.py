"""Kinds of appliance: how each behaves, and what may be done about it."""
