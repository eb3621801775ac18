"""Use cases about the list: standings, ranks, summaries."""
