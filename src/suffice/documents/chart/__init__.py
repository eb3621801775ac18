"""Charts: one specification for screen and paper."""
