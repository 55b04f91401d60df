"""What use teaches."""
