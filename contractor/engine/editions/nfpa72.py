"""What the editions of NFPA 72 have in common: the rules, in our words, without their numbers.

The editions differ in where a rule stands and in how sure we are of that; each holds its own
clause numbers as data, because they cannot be derived from one another.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.editions.model import (
    AlarmRule,
    BatteryRule,
    CellVoltage,
    Clause,
    LifeRule,
    Row,
    SensitivityRule,
    Standing,
)

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
    "heat_sample": "Two or more restorable heat detectors of each initiating circuit are tested "
    "every year, others each year, all within five years.",
    "heat_life": "Nonrestorable spot heat detectors are replaced 15 years after installation, or "
    "2 of every 100 are tested by a laboratory, again every 5 years after a good result.",
    "smoke_alarm_life": "Smoke alarms of one- and two-family dwellings are replaced 10 years after "
    "manufacture, or sooner if they fail.",
    "unsafe_place": "A place that is unsafe to reach may wait for a planned shutdown, if the "
    "authority agrees, but never longer than 18 months.",
    "software": "After a change of site-specific software every function known to be affected is "
    "tested, and 10 percent of the other initiating devices, at most 50.",
    "executive_software": "After a change of executive software 10 percent of the functions are "
    "tested, among them one device on each input and output circuit.",
    "device_added": "A device that is added is tested.",
    "device_deleted": "Where a device is taken away, another one on its circuit is operated.",
    "silent": "Inputs may be proved with the outputs bypassed, if a log proves that the signals "
    "came; the outputs are proved afterwards, once.",
    "battery_mark": "Batteries are marked with the month and year of manufacture, and their age is "
    "counted from it, not from installation.",
    "recalled": "The owner is told in writing of recalled equipment that is seen.",
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


def life(**cited: tuple[str, Standing, *tuple[str, ...]]) -> LifeRule:
    """Join an edition's own clauses to the samples and lives that all editions share."""
    return LifeRule(
        heat_per_circuit=2,
        heat_cover_years=5,
        heat_life_years=15,
        heat_lab_sample=2,
        heat_lab_per=100,
        heat_lab_repeat_years=5,
        smoke_alarm_years=10,
        unsafe_months=18,
        software_share=0.10,
        software_most=50,
        clauses=clauses(**cited),
    )


#: To the 2016 edition, from memory; later editions leave the voltages to the maker.
CELLS: Mapping[str, CellVoltage] = {
    "vrla": CellVoltage("from memory", (), float_v=2.30, float_tolerance_v=0.02, load_v=2.05),
    "vented": CellVoltage("from memory", (), float_v=None, float_tolerance_v=None, load_v=2.05),
    "nicad": CellVoltage("from memory", (), float_v=1.42, float_tolerance_v=None, load_v=1.25),
}


def battery(
    standing: Standing, *sources: str, margin: float, margin_clause: str, **rule: Any
) -> BatteryRule:
    """Join an edition's own margin and replacement rules to the standby that all editions share."""
    return BatteryRule(
        standing,
        sources,
        standby_h=24,
        alarm_min=5,
        voice_alarm_min=15,
        margin=margin,
        clause="10.6.7.2",
        margin_clause=margin_clause,
        **rule,
    )


ALARMS = AlarmRule(
    "confirmed",
    ("chronic_nfpa1",),
    says="Five nuisance alarms in 365 days make a building prone to chronic nuisance alarms "
    "(NFPA 1, 13.7.1.5.4).",
    count=5,
    days=365,
)

type Task = Literal["inspect", "test", "replace"]
type Line = tuple[str, Task, str, str, str, Standing, *tuple[str, ...]]

HOW: Mapping[tuple[str, Task, str], str] = {
    ("all_equipment", "inspect", ""): "Look for changes of the building, its use or its air; for "
    "what is moved, hidden, damaged or soiled.",
    ("control_unit_monitored", "inspect", ""): "Fuses, interfaced equipment, lamps, primary power: "
    "normal condition.",
    ("control_unit_monitored", "inspect", "trouble"): "Trouble signals.",
    ("control_unit_unmonitored", "inspect", ""): "Fuses, interfaced equipment, lamps, primary "
    "power, trouble signals: normal condition.",
    ("transmitter", "inspect", ""): "Place, condition, normal state.",
    ("voice", "inspect", ""): "Place and condition.",
    ("battery_vented", "inspect", ""): "Corrosion, leaks, tightness, date mark; electrolyte level.",
    ("battery_nicad", "inspect", ""): "Corrosion, leaks, tightness, date mark.",
    ("battery_primary", "inspect", ""): "Corrosion, leaks, tightness, date mark.",
    ("battery_vrla", "inspect", ""): "Corrosion, leaks, tightness, date code.",
    ("annunciator", "inspect", ""): "Place and condition.",
    ("power_extender", "inspect", ""): "Fuses, lamps, primary power.",
    ("smoke", "inspect", ""): "Place, obstruction, damage, dirt, changes.",
    ("smoke_heat", "inspect", ""): "Place, obstruction, damage, dirt, changes.",
    ("duct", "inspect", ""): "Place, obstruction, damage, dirt; sampling tubes.",
    ("beam", "inspect", ""): "Place, obstruction of the path, damage, dirt.",
    ("aspirating", "inspect", ""): "Place, pipes and sampling ports, damage, dirt.",
    ("heat_restorable", "inspect", ""): "Place, obstruction, damage, dirt, changes.",
    ("heat_line", "inspect", ""): "Place, damage, changes.",
    ("heat_nonrestorable", "inspect", ""): "Place, obstruction, damage, dirt, changes.",
    ("flame", "inspect", ""): "Place, view, damage, dirt on the window.",
    ("carbon_monoxide", "inspect", ""): "Place, damage, end-of-life date.",
    ("manual", "inspect", ""): "Place, access, damage.",
    ("waterflow", "inspect", ""): "Place and condition.",
    ("tamper", "inspect", ""): "Place and condition.",
    ("air_pressure", "inspect", ""): "Place and condition.",
    ("water_level", "inspect", ""): "Place and condition.",
    ("room_temperature", "inspect", ""): "Place and condition.",
    ("water_temperature", "inspect", ""): "Place and condition.",
    ("suppression", "inspect", ""): "Place and condition.",
    ("releasing", "inspect", ""): "Place and condition.",
    ("video", "inspect", ""): "Place, view, damage, dirt on the lens.",
    ("supervising_station", "inspect", ""): "Signals are received, by the station's own people.",
    ("audible", "inspect", ""): "Place and condition.",
    ("visible", "inspect", ""): "Place and condition; candela mark against the drawings.",
    ("module", "inspect", ""): "Place and condition.",
    ("control_unit_monitored", "test", ""): "Every input, output and supervision; loss of power.",
    ("control_unit_unmonitored", "test", ""): "Every input, output and supervision; loss of power.",
    ("smoke", "test", "functional"): "In place: smoke enters the chamber and the control unit "
    "answers; aerosol only as the maker allows.",
    ("smoke", "test", "sensitivity"): "In place, by one of the permitted methods; as found before "
    "as left.",
    ("smoke_heat", "test", "functional"): "Smoke as for a smoke detector, heat as for a heat "
    "detector; the fixed element is spared.",
    ("smoke_heat", "test", "sensitivity"): "In place, by one of the permitted methods; as found "
    "before as left.",
    ("duct", "test", "functional"): "Smoke enters the housing and the control unit answers; "
    "pressure difference of the sampling tubes within the maker's range.",
    ("duct", "test", "sensitivity"): "In place, by one of the permitted methods; as found before "
    "as left.",
    ("beam", "test", "functional"): "The maker's filter or method.",
    ("aspirating", "test", "functional"): "The maker's method, from the farthest sampling port; "
    "airflow fault.",
    ("flame", "test", ""): "The maker's method, sensitivity among it.",
    ("video", "test", ""): "The maker's method.",
    ("thermal_image", "test", ""): "The maker's method.",
    ("carbon_monoxide", "replace", "end_of_life"): "Replaced at the maker's end of life, or at its "
    "end-of-life signal: once 4 to 5 years, now 7 to 10.",
    ("carbon_monoxide", "test", ""): "Carbon monoxide into the sensing chamber; an electronic "
    "check alone does not do.",
    ("heat_restorable", "test", ""): "A listed heat source or the maker's method; the fixed "
    "element of a combined head is spared.",
    ("heat_line", "test", ""): "No heat: mechanical and electrical check; loop resistance measured "
    "and kept.",
    ("heat_nonrestorable", "replace", ""): "No heat in place: replaced by age, or a sample goes to "
    "a laboratory.",
    ("manual", "test", ""): "Operated.",
    ("waterflow", "test", ""): "Water flows as from one sprinkler of the smallest orifice, by the "
    "inspector's connection; dry, preaction and deluge by the alarm bypass. The alarm comes within "
    "90 seconds of the flow (17.12, from memory).",
    ("tamper", "test", ""): "Signal within two turns of the wheel or a fifth of its travel, or as "
    "the maker says; and restored.",
    ("air_pressure", "test", ""): "Signal at a change of 10 psi at most; and restored.",
    ("water_level", "test", ""): "Signal at 3 in. in a pressure tank, at 12 in. in any other; and "
    "restored.",
    ("room_temperature", "test", ""): "Signal at 40 F falling; and restored.",
    ("water_temperature", "test", ""): "Signal at 40 F falling; and restored.",
    ("suppression", "test", ""): "Operated, with the release secured.",
    ("releasing", "test", ""): "Operated or simulated, with the release secured; then restored.",
    ("audible", "test", ""): "Operated; sound levels after acceptance and after changes.",
    ("audible", "test", "sound_public"): "The larger of 15 dBA above the average ambient sound and "
    "5 dBA above the loudest sound of 60 seconds or more, 5 ft above the floor; never more than "
    "110 dBA in all.",
    ("audible", "test", "sound_private"): "The larger of 10 dBA above the average ambient sound "
    "and 5 dBA above the loudest of 60 seconds or more, at least 45 dBA.",
    ("audible", "test", "sound_sleeping"): "The largest of 15 dBA above the average ambient sound, "
    "5 dBA above the loudest of 60 seconds or more, and 75 dBA, at the pillow with doors shut.",
    ("audible", "test", "low_frequency"): "520 Hz, 10 percent more or less (468 to 572 Hz), where "
    "the signal is meant to wake people; since 1 January 2014.",
    ("visible", "test", ""): "Operated.",
    ("visible", "test", "light"): "Corridor 15 cd; sleeping area 110 cd, or 177 cd within "
    "24 in. of the ceiling; in step where more than two are in view.",
    ("voice", "test", ""): "Operated; every path, live and recorded.",
    ("module", "test", ""): "Operated or simulated; the far system has a test of its own.",
    ("annunciator", "test", ""): "Indication and labels.",
    ("power_extender", "test", ""): "Loss of power, supervision.",
    ("transmitter", "test", ""): "Signal received, correct, by every path.",
    ("battery_vrla", "test", "charger"): "Charger voltage right for the battery.",
    ("battery_vrla", "test", "discharge"): "Discharged; voltage stays above the maker's floor.",
    ("battery_vrla", "test", "load"): "Voltage under load.",
    (
        "battery_vrla",
        "test",
        "capacity",
    ): "Discharged at a rate of three hours or longer, corrected "
    "for temperature; duration and capacity kept.",
    ("battery_vented", "test", "load"): "Voltage under load.",
    ("battery_vented", "test", "gravity"): "Specific gravity within the maker's range.",
    ("battery_nicad", "test", "load"): "Voltage under load.",
    ("battery_primary", "test", "load"): "Age and load: a 1.5 V cell is replaced when 1 ohm pulls "
    "it below 1 V.",
    ("battery_vrla", "test", "ohmic"): "Ohmic value of each cell within the maker's limit; "
    "commonly 30 percent above its first value.",
    ("battery_vrla", "replace", ""): "Replaced by age: how many years, and from which day, stands "
    "among the rules for batteries.",
    ("battery_vrla", "replace", "maker"): "Replaced when the maker of the control unit says so, or "
    "when its recharged voltage or current falls below the maker's figures.",
    ("smoke_alarm", "test", ""): "Test button, by the occupant.",
    ("smoke_alarm", "replace", ""): "Replaced by age from manufacture, or sooner if it fails; with "
    "carbon monoxide in one housing the shorter life rules.",
    ("household", "test", ""): "The whole system, by a qualified technician.",
    ("radio", "test", ""): "Signal strength floor by floor, commonly 20 grids: -95 dBm in "
    "95 percent of general and 99 percent of critical areas by local figures; its supervisory "
    "signals.",
    ("elevator_recall", "test", ""): "Recall, and one floor of operation from inside the car, "
    "by the key, by authorized staff. A rule of the elevator code.",
    ("software", "test", ""): "Every function known to be affected, and a sample of the rest.",
    ("executive_software", "test", ""): "A sample of all functions.",
}

SAMPLES: Mapping[str, str] = {
    "heat_restorable": "two or more per circuit and year, others each year, all within five years",
    "heat_nonrestorable": "all at 15 years, or 2 of every 100 to a laboratory",
    "radio": "every floor, by grids",
    "software": "all affected; 10 percent of the others, at most 50",
    "executive_software": "10 percent, one device on each circuit among them",
}


def rows(table: Iterable[Line]) -> tuple[Row, ...]:
    """Join an edition's table (component, task, part, frequency, clause, standing, sources)."""
    return tuple(
        Row(
            standing,
            tuple(sources),
            component=component,
            task=task,
            part=part,
            frequency=frequency,
            method=HOW[component, task, part],
            sample=SAMPLES.get(component, "all"),
            clause=clause,
        )
        for component, task, part, frequency, clause, standing, *sources in table
    )
