"""Work out the capacity that a battery gave, and correct it for temperature."""

import math

# How much more capacity a lead-acid battery needs as it gets colder, on a basis of 77 F: the
# published chart of a battery testing program, equal to IEEE 485, Table 1 as recalled.
_TEMPERATURE_F = (
    40, 45, 50, 55, 60, 65, 66, 67, 68, 69, 70, 71, 72, 73, 74, 75, 76, 77, 78, 79, 80, 85, 90,
    95, 100, 105, 110, 115, 120,
)  # fmt: skip
_CAPACITY_FACTOR = (
    1.300, 1.250, 1.190, 1.150, 1.110, 1.080, 1.072, 1.064, 1.056, 1.048, 1.040, 1.034, 1.029,
    1.023, 1.017, 1.011, 1.006, 1.000, 0.994, 0.987, 0.980, 0.960, 0.940, 0.930, 0.910, 0.890,
    0.880, 0.870, 0.860,
)  # fmt: skip


def capacity_found(
    *, run_h: float, rate_h: float, temperature_f: float | None = None, chemistry: str = "vrla"
) -> float:
    """Compute the share of its rated capacity that a battery gave, corrected to 77 F.

    Parameters
    ----------
    run_h : float
        How long it held the load, down to the voltage at which the test ends. [h]
    rate_h : float
        How long the maker says that it holds this load when new. [h]
    temperature_f : float, optional
        Temperature of the battery; without one nothing is corrected. [F]
    chemistry : one of CHEMISTRIES, default "vrla"
        The table of temperatures is of lead-acid: others are not corrected.

    Returns
    -------
    float
        [-]

    Raises
    ------
    ValueError
        If a time is not above zero, or as `capacity_factor`.

    Source: time found over time rated, corrected for temperature: the method of IEEE 1188 and
    450 for tests at a constant load (from memory). It divides by a factor of its own, made for
    tests; the factor of IEEE 485 used here is made for sizing, and leans to the same side.

    >>> round(capacity_found(run_h=2.5, rate_h=3, temperature_f=68), 3)
    0.88
    """
    for name, hours in (("time held", run_h), ("rated time", rate_h)):
        if not 0 < hours < math.inf:
            raise ValueError(f"A {name} of {hours:g} h cannot be. Check the entry.")
    share = run_h / rate_h
    if temperature_f is None or chemistry == "nicad":
        return share
    return share * capacity_factor(temperature_f=temperature_f)


def capacity_factor(*, temperature_f: float) -> float:
    """Give the factor by which a lead-acid capacity found at a temperature becomes that at 77 F.

    Parameters
    ----------
    temperature_f : float
        Temperature of the battery, 40 to 120. [F]

    Returns
    -------
    float
        Linear between the points of the table. [-]

    Raises
    ------
    ValueError
        If the temperature lies outside the table.

    Source: IEEE 485, Table 1 (from memory), equal to a published chart.

    >>> capacity_factor(temperature_f=68)
    1.056
    """
    if not _TEMPERATURE_F[0] <= temperature_f <= _TEMPERATURE_F[-1]:
        raise ValueError(
            f"{temperature_f} F lies outside {_TEMPERATURE_F[0]} to {_TEMPERATURE_F[-1]} F. "
            "Test again at a usual temperature."
        )
    for place, node in enumerate(_TEMPERATURE_F):
        if temperature_f == node:
            return _CAPACITY_FACTOR[place]
        if temperature_f < node:
            break
    t0, t1 = _TEMPERATURE_F[place - 1], _TEMPERATURE_F[place]
    k0, k1 = _CAPACITY_FACTOR[place - 1], _CAPACITY_FACTOR[place]
    return k0 + (k1 - k0) * (temperature_f - t0) / (t1 - t0)
