"""Tests of the signs."""
