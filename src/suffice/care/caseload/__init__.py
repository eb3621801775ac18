"""Use cases about the list: caseload rows, ranks, summaries."""
