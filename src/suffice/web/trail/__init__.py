"""The trail: who did and saw what."""
