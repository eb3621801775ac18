"""Use cases about one family: opening, recording, asking, moving."""
