"""Learning: what use and the crew teach about the appliances."""
