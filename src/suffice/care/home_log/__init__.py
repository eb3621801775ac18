"""The log of a day that a family kept on paper: typed in by its rows, or read from a photograph."""
