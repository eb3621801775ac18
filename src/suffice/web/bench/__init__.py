"""Calculations without a record."""
