"""Everything computed for a family as of an instant: pure functions of record, content and policy."""
