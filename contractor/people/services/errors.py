"""What can go wrong with seats, licences and the firm's page."""


class UnableToSeat(Exception):
    """It cannot be done so; the text says what is so and what to do."""
