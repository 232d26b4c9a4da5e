"""Hold the adopted codes as data, one file per edition."""
