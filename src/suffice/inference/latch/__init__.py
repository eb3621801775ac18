"""What a photograph of a latch says: the mouth in space, from marks in a picture of unknown view."""
