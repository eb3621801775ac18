"""Commands for whoever runs a server."""
