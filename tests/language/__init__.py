"""Sentences in the words of a language."""
