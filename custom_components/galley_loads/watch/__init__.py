"""The watch: what is looked after while the boat is loaded."""
