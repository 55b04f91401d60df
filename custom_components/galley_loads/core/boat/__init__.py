"""The boat: what its owner tells about it, and how that is read and checked."""
