"""Text as people write it, read as a value, and a value written as text."""
