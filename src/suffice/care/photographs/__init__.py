"""Photographs of a latch: kept apart from the record, encrypted, erased when consent ends."""
