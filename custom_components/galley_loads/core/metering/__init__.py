"""Metering: readings of the boat's sensors become load samples."""
