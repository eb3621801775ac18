"""What pages show: results of care put into words and places. Pure: no request, no database."""
