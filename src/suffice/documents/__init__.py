"""The documents room: see README.md beside this file."""
