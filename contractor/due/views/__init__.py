"""Pages of the due area."""
