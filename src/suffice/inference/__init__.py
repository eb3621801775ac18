"""The inference room: see README.md beside this file."""
