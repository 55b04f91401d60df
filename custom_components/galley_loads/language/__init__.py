"""Sentences: what the core says as keys and numbers, in the words of a language.

Imports nothing of the platform, so that the commands for a terminal say the same.
"""
