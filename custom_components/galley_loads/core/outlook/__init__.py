"""The outlook: what sun, bank and crew have shown, the ground of all advice."""
