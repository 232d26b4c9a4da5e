"""Pages about people and the firm itself."""
