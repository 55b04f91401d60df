"""The whole job in pure Python: readings in, runs, meals and advice out."""
