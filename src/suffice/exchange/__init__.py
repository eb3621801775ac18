"""The exchange room: see README.md beside this file."""
