"""What the swallows of a watched feed say: is milk still swallowed, and for how long was it."""
