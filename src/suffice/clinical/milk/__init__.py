"""Milk: what is needed, what was taken, what was weighed."""
