"""The pages of findings: list and finding, what is done about one, the firm's own list."""
