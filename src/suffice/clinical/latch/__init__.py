"""The latch in a photograph: what is marked, and what the marks say without any model."""
