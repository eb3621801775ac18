"""A contact while it goes on: begun, answered part by part as it happens, ended."""
