"""The log of a day on the screen: the same grid as on paper."""
