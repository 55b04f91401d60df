"""The ledger: where the energy went, and where it came from."""
