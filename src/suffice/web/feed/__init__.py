"""Watching a feed: the live page, its readings, and the feed afterwards."""
