"""The clinical room: see README.md beside this file."""
