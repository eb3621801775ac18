"""Many infants assessed at once from files; no record, no use case."""
