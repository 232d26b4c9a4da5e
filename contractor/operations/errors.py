"""Why a backup or a return cannot go on; the text is the sentence that is shown."""


class Refused(Exception):
    """It cannot be done as asked; the sentence says what is so and what to do."""


class Damaged(Refused):
    """What lies in the backup is not what was written."""


class WrongKey(Refused):
    """The backup was closed with another key."""
