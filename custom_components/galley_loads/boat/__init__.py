"""From the config entry and the platform's states to the boat and its readings."""
