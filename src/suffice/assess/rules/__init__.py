"""The rules of the content, evaluated."""
