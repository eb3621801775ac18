"""The web room: see README.md beside this file."""
