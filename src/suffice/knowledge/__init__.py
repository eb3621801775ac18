"""The knowledge room: see README.md beside this file."""
