"""The bank and its inverter: charge, capacity, losses."""
