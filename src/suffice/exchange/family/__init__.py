"""A family as JSON."""
