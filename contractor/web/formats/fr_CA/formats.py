"""French as written in Canada."""

DATE_FORMAT = "j M Y"
DATETIME_FORMAT = r"j M Y, H \h i"
TIME_FORMAT = r"H \h i"
DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "\xa0"
