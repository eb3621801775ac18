"""The record room: see README.md beside this file."""
