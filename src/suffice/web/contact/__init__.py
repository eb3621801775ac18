"""A contact as it happens: its parts, their questions, its end."""
