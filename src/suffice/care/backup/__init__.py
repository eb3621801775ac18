"""Copies of the whole record, sealed: made, looked at, kept for a while, and restored."""
