"""Erasing a family: asking for it, and confirming or refusing what somebody else asked for."""
