"""Tests of Galley Loads."""
