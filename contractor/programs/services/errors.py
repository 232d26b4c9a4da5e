"""What can be refused."""


class UnableToMake(Exception):
    """It cannot be made so; the text says what is so and what to do."""
