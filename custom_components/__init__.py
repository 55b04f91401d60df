"""The custom integrations of this repository."""
