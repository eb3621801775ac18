"""The quick answer for many infants at once."""
