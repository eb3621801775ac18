"""Use cases about the clinic: its policy, its people, their sign-in."""
