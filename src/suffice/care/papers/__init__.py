"""The papers of a family: made from the record, signed, and given."""
