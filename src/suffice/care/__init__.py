"""The care room: see README.md beside this file."""
