"""One family."""
