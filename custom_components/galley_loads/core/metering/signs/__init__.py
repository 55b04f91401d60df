"""Signs that are set the wrong way round: detected from what the meters say together."""
