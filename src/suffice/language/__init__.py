"""The one place where anything is put into words."""
