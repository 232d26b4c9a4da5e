"""What goes wrong when the register is changed."""


class UnableToChange(Exception):
    """The register cannot be changed so; the text says what is so and what to do."""


class ChangedMeanwhile(Exception):
    """Somebody else changed the same thing; the text says what stands now."""
