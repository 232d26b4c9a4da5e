"""What the editions of NFPA 72 have in common: the rules, in our words, without their numbers.

The editions differ in where a rule stands and in how sure we are of that; each holds its own
clause numbers as data, because they cannot be derived from one another.
"""

from collections.abc import Mapping

from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.editions.model import Clause, SensitivityRule, Standing

SAYS: Mapping[str, str] = {
    "sensitivity": "Smoke detectors are tested for sensitivity in place, by a permitted method.",
    "first_year": "Sensitivity is tested within one year after installation.",
    "alternate_year": "After that it is tested every alternate year, unless the interval has been "
    "extended.",
    "extended": "After the second required test the interval may grow to at most five years, if "
    "the tests show that the detector has stayed in its listed and marked range.",
    "nuisance_record": "While the interval is extended, nuisance alarms and their trend are "
    "recorded.",
    "nuisance_increase": "Where the nuisance alarms of a zone or area have risen over the year "
    "before, its detectors are tested.",
    "marked_range": "A detector in its listed and marked range has passed.",
    "unmarked": "A detector without a marked range is judged by 4 percent obscuration per foot, "
    "light gray smoke.",
    "methods": "Five methods are permitted.",
    "out_of_range": "A detector outside its listed and marked range is cleaned and recalibrated, "
    "or replaced.",
    "adjustable": "A detector that can be adjusted in the field may be adjusted within its range, "
    "cleaned and recalibrated, or replaced.",
    "unmeasured_aerosol": "A device that gives an unmeasured amount of smoke or aerosol does not "
    "test sensitivity.",
    "restart": "The interval grows only for a detector that has stayed in its range. One that was "
    "found out of it starts again: alternate years, and two more required tests in range.",
}

METHODS: Mapping[str, str] = {
    "calibrated": "a calibrated test method",
    "instrument": "the maker's calibrated sensitivity instrument",
    "control_unit": "listed control equipment built for it",
    "self_report": "detector and control unit together signal when sensitivity leaves the listed "
    "range",
    "accepted": "another calibrated method that the authority has accepted",
}

REFUSED_METHODS: Mapping[str, str] = {
    "unmeasured_aerosol": "smoke or aerosol in an unmeasured amount: a functional test at best",
    "magnet": "a magnet, unless the maker's listed instructions say that it measures sensitivity",
}

SENSITIVITY = SensitivityRule(
    first_months=12,
    repeat_months=24,
    extended_months=60,
    required_tests=2,
    counted_gap_months=9,
    unmarked_high=UNMARKED_HIGH,
    methods=METHODS,
    refused_methods=REFUSED_METHODS,
)


def clauses(**cited: tuple[str, Standing, *tuple[str, ...]]) -> dict[str, Clause]:
    """Join an edition's own numbers, standings and sources to what the clauses say."""
    return {
        topic: Clause(standing, tuple(sources), topic, number, SAYS[topic])
        for topic, (number, standing, *sources) in cited.items()
    }
