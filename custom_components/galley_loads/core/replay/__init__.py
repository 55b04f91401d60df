"""Replay: a whole history through the engine, and what came of it."""
