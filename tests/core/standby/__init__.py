"""Tests of what appliances draw while nobody cooks."""
