"""A feed that somebody watched: its events, and the seconds of each side."""
