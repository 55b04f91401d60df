"""The sky: where the sun stands, what it gives, and how that may turn out."""
