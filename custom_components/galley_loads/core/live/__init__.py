"""What is shown at the moment, and the machine that decides it."""
