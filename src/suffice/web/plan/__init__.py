"""The plan of a family: the proposal with its working, what is agreed on, what happened since."""
