"""Entering, correcting and withdrawing an entry."""
