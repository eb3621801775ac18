"""Milk on hand on the screen, and its labels."""
