"""The engine asked for one infant: evidence in, answers out."""
