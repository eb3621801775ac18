"""The content with its sources."""
