"""The model: what may go on behind the load, and how likely each of it is."""
