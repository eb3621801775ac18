"""The papers of a family on the screen."""
