"""The usual findings and how bad each usually is: a firm starts from these and makes its own.

Source of the classes: our reading of the words impairment, deficiency (critical, noncritical) and
observation as NFPA 25 and the trade's teaching use them. The firm may change every one.
"""

from typing import NamedTuple


class Usual(NamedTuple):
    """One usual finding."""

    title: str
    severity: str
    text: str


USUAL = (
    Usual(
        "Control unit is dead",
        "impairment",
        "Neither mains nor batteries carry the control unit. The building is without alarm.",
    ),
    Usual(
        "Initiating loop open",
        "impairment",
        "Devices beyond the break cannot report. Find the break, close it, test both ends.",
    ),
    Usual(
        "Notification circuit out of order",
        "impairment",
        "Occupants are not warned in the part that it serves.",
    ),
    Usual(
        "All paths to the supervising station down",
        "impairment",
        "Nobody off the premises learns of an alarm.",
    ),
    Usual(
        "Releasing circuit disabled",
        "impairment",
        "The suppression system will not be released by detection.",
    ),
    Usual(
        "Detector gives no alarm",
        "critical_deficiency",
        "It does not answer its functional test. Replace it and test the new one.",
    ),
    Usual(
        "Less sensitive than marked",
        "critical_deficiency",
        "Clean it and read it again; replace it if it stays outside its range.",
    ),
    Usual("Appliance is mute or dark", "critical_deficiency", "Replace it and test the new one."),
    Usual(
        "Battery holds too little",
        "critical_deficiency",
        "It has 80 % of its capacity or less. Replace the set.",
    ),
    Usual("Duct sampling tube blocked", "critical_deficiency", "Clear it; test with air moving."),
    Usual(
        "One of two paths to the supervising station down",
        "critical_deficiency",
        "The other still works. Repair it before that fails too.",
    ),
    Usual(
        "More sensitive than marked",
        "deficiency",
        "It will give alarms without a fire. Clean it and read it again.",
    ),
    Usual("Ground fault on a circuit", "deficiency", "Find it: a second one stops the circuit."),
    Usual(
        "Device could not be reached",
        "noncritical",
        "It was not tested. Agree a day with a lift, or a key.",
    ),
    Usual("Label missing", "noncritical", "Fix a new one with address and room."),
    Usual("Documents missing", "noncritical", "Drawings and records belong at the control unit."),
    Usual("Minor damage", "noncritical", "It works, and should be made good."),
    Usual("Advice", "observation", ""),
)
