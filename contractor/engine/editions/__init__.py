"""Hold the adopted codes as data, one file per edition.

Nothing here is quoted: rules are restated in our own words, and each carries how sure we are of
it. Before a rule is shown as the code's, someone must check it in a licensed copy.
"""

from contractor.engine.editions import (
    bs5839_1,
    can_ulc_s536,
    nfpa72_2010,
    nfpa72_2013,
    nfpa72_2016,
    nfpa72_2019,
    nfpa72_2022,
    nfpa72_2025,
)
from contractor.engine.editions.model import (
    BatteryRule,
    Clause,
    Edition,
    LifeRule,
    NoSensitivityRule,
    RateBand,
    RateGuide,
    Row,
    SensitivityRule,
    Standing,
    UnknownEdition,
)

__all__ = [
    "BatteryRule",
    "Clause",
    "Edition",
    "LifeRule",
    "NoSensitivityRule",
    "RateBand",
    "RateGuide",
    "Row",
    "SensitivityRule",
    "Standing",
    "UnknownEdition",
    "get",
    "keys",
]

_EDITIONS: dict[str, Edition] = {
    module.EDITION.key: module.EDITION
    for module in (
        nfpa72_2010,
        nfpa72_2013,
        nfpa72_2016,
        nfpa72_2019,
        nfpa72_2022,
        nfpa72_2025,
        can_ulc_s536,
        bs5839_1,
    )
}


def keys() -> tuple[str, ...]:
    """List the keys of all editions, the oldest of each code first."""
    return tuple(_EDITIONS)


def get(key: str) -> Edition:
    """Give the edition with this key.

    Raises
    ------
    UnknownEdition
        If there is none.

    >>> get("nfpa72-2010").clause("first_year").number
    '14.4.5.3.1'
    """
    try:
        return _EDITIONS[key]
    except (KeyError, TypeError):
        raise UnknownEdition(
            f"{key!r} is not an edition that is held here. Use one of {', '.join(_EDITIONS)}."
        ) from None
