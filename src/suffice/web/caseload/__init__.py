"""The list."""
