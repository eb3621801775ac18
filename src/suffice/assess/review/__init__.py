"""What is computed and found for one infant, topic by topic."""
