"""The search: competing hypotheses, extended steady state by steady state."""
