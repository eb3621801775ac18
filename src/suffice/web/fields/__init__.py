"""What forms share: how text is read, doubts asked about, moments chosen."""
