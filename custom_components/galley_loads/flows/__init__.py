"""The forms of the interface: each edits one part of the boat description."""
