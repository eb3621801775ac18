"""Milk on hand: what is kept for an infant, until when, and what is done with it."""
