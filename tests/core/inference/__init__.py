"""Inference, stated as sentences about a boat."""
