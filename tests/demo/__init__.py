"""The demo boat and what it is shown with."""
