"""The actions of the integration, by subject."""
