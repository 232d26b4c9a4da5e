"""Spanish. The decimal sign is the comma; both it and the point are understood when typed."""

DATE_FORMAT = "j M Y"
DATETIME_FORMAT = "j M Y, H:i"
TIME_FORMAT = "H:i"
DECIMAL_SEPARATOR = ","
THOUSAND_SEPARATOR = "\xa0"
