"""Sign-in and the people of the clinic."""
