"""State: what outlives a restart, and how it is written and read."""
