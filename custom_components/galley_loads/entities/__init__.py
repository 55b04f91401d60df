"""The entities behind the platform's own files, by subject."""
