"""The tablet's own addresses, the app's shell, and the office's pages about tablets."""
