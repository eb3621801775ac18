"""The settings of the clinic."""
