"""How the record itself is, for whoever looks after it."""
