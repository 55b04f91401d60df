"""The past: what the recorder kept, worked through by the same engine."""
