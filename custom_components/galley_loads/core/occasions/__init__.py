"""Occurrences worth telling: detected once, passed on to automations and to the crew."""
