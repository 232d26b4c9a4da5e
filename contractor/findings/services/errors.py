"""What goes wrong when a finding is changed."""


class UnableToChange(Exception):
    """The finding cannot be changed so; the text says why."""
