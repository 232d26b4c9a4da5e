"""Pages of planning: the board, weeks, one visit's arrangements, calendars, days."""
