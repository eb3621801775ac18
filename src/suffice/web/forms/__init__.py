"""Forms: what a person wrote, read into facts; what is doubtful is asked, what is wrong is shown."""
