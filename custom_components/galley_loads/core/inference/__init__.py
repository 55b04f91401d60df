"""Inference: from the boat's load to what each appliance did."""
