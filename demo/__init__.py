"""A simulated boat and the Home Assistant configuration that shows it."""
