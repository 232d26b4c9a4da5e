"""Why something cannot be carried or removed; the text is the sentence that is shown."""


class UnableToCarry(Exception):
    """The export or import cannot go on; the sentence says what is so and what to do."""


class UnableToRemove(Exception):
    """The rule cannot be set so, or the record not removed; the sentence says why."""
