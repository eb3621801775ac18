"""The log of a day on paper: where its boxes are, and what was ticked in a picture of it."""
