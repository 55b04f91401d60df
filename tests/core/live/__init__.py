"""Tests of what is shown at the moment."""
