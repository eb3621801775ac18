"""A table of entries: file, columns, options, cells, rows, records."""
