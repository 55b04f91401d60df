"""The review: one verdict on a whole run before it is settled."""
