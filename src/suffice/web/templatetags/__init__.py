"""Template tags of our pages."""
