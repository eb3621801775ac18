"""A photograph of a latch: kept, marked, and what it says."""
