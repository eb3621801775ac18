"""Views by noun; each asks care and hands what it says to a page."""
