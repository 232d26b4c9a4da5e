"""Say of each page what it answers and what one does there; one without takes its area's."""

from typing import Any, NamedTuple

from contractor.web.glyphs import STATES


class Help(NamedTuple):
    """One page: its name, what it answers, and what one does there, step by step."""

    name: str
    answers: str
    steps: tuple[str, ...] = ()


PAGES: dict[str, Help] = {
    "schedule:todo": Help(
        "What needs doing",
        "What cannot wait, what belongs to this week, and what can still be prevented.",
        (
            "Begin at the top: the gravest stands first, each with the one button that settles it.",
            "A day in the margin leads to why it is that day: edition, clause, last test.",
            "The rule above shows the weeks ahead: posts are earliest and latest days, a ring is a"
            " planned visit, a diamond has passed its latest day.",
        ),
    ),
    "schedule:due": Help(
        "What is due",
        "Every task of every building with its earliest, target and latest day.",
        (
            "Click a month, or choose task, town, building or agreement; the address keeps the"
            " choice, so it can be bookmarked or kept under a name.",
            "Open a day to see why it is that day. Plan a visit from the row, or all of a building"
            " on Planning.",
        ),
    ),
    "schedule:why": Help(
        "Why this day",
        "Which test, rule and clause made this due date, and how sure we are of the clause.",
    ),
    "schedule:calendar": Help(
        "Five years ahead", "What falls due in one building in the next five years, and when."
    ),
    "schedule:doing": Help(
        "How we are doing",
        "Dates in time by kind of work, open findings by age, forecasts against what came.",
        ("Each drawing has its table below it.",),
    ),
    "register:customers": Help(
        "Customers",
        "Who has the agreements, and what is open with them.",
        ("Open a customer for its people, buildings, agreements and what is due next.",),
    ),
    "register:buildings": Help(
        "Buildings",
        "Each building, and how its smoke detectors stood when they were last read.",
        (
            "Add a building with its customer and adopted edition; the rest can wait.",
            "Then take in its device list or a print-out of its control unit.",
        ),
    ),
    "register:building": Help(
        "A building",
        "What falls due here, how its detectors stand zone by zone, what is wrong.",
        (
            "Each mark of a zone is one detector; those that ask for something can be opened.",
            "Plan a visit, take in a print-out, or write down a finding or an unwanted alarm.",
            "At the end stands what the building’s file says: authority, supervising station, what"
            " to secure before work.",
        ),
    ),
    "register:device": Help(
        "A detector",
        "Where it stands between its marks, how it drifted, when it is due again and why.",
        (
            "The large rule shows the alarm point between the marks; the tether is the drift.",
            "The lower drawing shows every run; its fan is where it will be, nine times in ten"
            " above the one edge, nine in ten below the other.",
        ),
    ),
    "register:products": Help(
        "Products",
        "What is marked on each product: range and limit of compensation.",
        ("A reading can only be judged where its product’s range is on file.",),
    ),
    "register:instruments": Help(
        "Instruments", "What is tested with, and until which day each is calibrated."
    ),
    "readings:take_in": Help(
        "Take in a file",
        "Reads a print-out, a device list or an event log, whatever its shape.",
        (
            "Choose the file. You then see each row with what was understood.",
            "Nothing is written until you accept; the whole can be undone for 30 days.",
        ),
    ),
    "readings:intake": Help(
        "A file that came in",
        "What each row says against what is on file, and what is wrong with it.",
        (
            "Look at what the columns mean first; what is below 75 of 100 asks for your choice.",
            "Mend single rows, or accept the good ones. Rows with problems can be taken as a list.",
        ),
    ),
    "visits:list": Help("Visits", "What is planned, under way, to review and signed off."),
    "visits:plan": Help(
        "Plan a visit",
        "Day, tasks, devices and people of one visit.",
        (
            "Warnings about licences, calibration and clashes are shown before anything is kept.",
            "Several tasks can go in one trip; Planning offers the fewest.",
        ),
    ),
    "visits:round": Help(
        "The round",
        "Every device of the visit in walking order, with what is still to do.",
        (
            "Each device is passed by itself; there is no way to pass all.",
            "What nobody touches is reported as not tested.",
        ),
    ),
    "visits:review": Help(
        "Review",
        "What came back from the building, and what stands in the way of signing.",
        (
            "Settle two results for one device first, then what is out, then what is not tested.",
            "Sign off seals the record; later corrections are amendments that show old and new.",
        ),
    ),
    "visits:sign_off": Help("Sign off", "What the sealed record will say, before it is sealed."),
    "planning:board": Help(
        "Planning",
        "What falls due and nobody has planned, bundled into the fewest visits.",
        (
            "Plan a proposed visit as it stands, or change day, tasks and people.",
            "Weeks by technician shows load and clashes; move a visit there and see what slips.",
        ),
    ),
    "drift:fleet": Help(
        "Drift of the fleet",
        "Which detectors will run out of compensation, where, and what cleaning would buy.",
        (
            "Each frame is one building on the same axes: a thin line for each detector.",
            "Open a building for what to clean on the next visit.",
        ),
    ),
    "drift:accuracy": Help(
        "Forecasts that came true", "The chances that were said, against the share that came."
    ),
    "findings:list": Help(
        "Findings",
        "Every deficiency and impairment that is open, the gravest first.",
        (
            "Each has steps: told, quoted, approved, corrected, tested again. Do the next one.",
            "The day by which somebody must be told follows the rules of its place.",
        ),
    ),
    "findings:finding": Help(
        "A finding",
        "What is wrong, who was told when, and what is the next step.",
        ("A finding is closed by its correction and the proof of a new test.",),
    ),
    "alarms:firm": Help(
        "Unwanted alarms", "Alarms without fire, by building: rising, chronic, record broken."
    ),
    "alarms:list": Help(
        "The unwanted-alarm record",
        "Every alarm without fire, month by month; months with none are said to have none.",
        ("A gap in the record takes the five-year interval away.",),
    ),
    "reports:list": Help(
        "Reports", "Signed visits with their reports; amendments stand beside, never over."
    ),
    "reports:record": Help(
        "A sealed record",
        "The record as it was signed, its fingerprint, its reports, who was sent what and when.",
    ),
    "search:answers": Help(
        "Answers", "When was it tested? Where is this product? Who lost the five years?"
    ),
    "power:firm": Help("Battery sets", "Each set with its age, tests and what it must hold."),
    "agreements:list": Help("Agreements", "What was promised, beside what the code asks."),
    "due:rules": Help("Codes", "What each edition asks, how often, by which clause."),
    "due:local_rules": Help("Local rules", "What a jurisdiction asks beyond its edition."),
    "custody:kept": Help("How long records are kept", "Until when, by which rule, and holds."),
    "tablets:list": Help(
        "Tablets", "Which are enrolled, when each was heard of, what it has not sent."
    ),
    "people:firm": Help("The firm", "Letterhead, licences, time zone, unit, mail."),
    "people:list": Help("People", "Who works here, licences, invitations, parting."),
    "operations:health": Help(
        "How the server is", "Backups, drills, mail, queue, nights, disk and clock."
    ),
    "owners:start": Help("Your buildings", "Each building you own or run, and how it stands."),
    "owners:building": Help(
        "Your building",
        "Whether it is tested in time, what is wrong, what you must do and by when.",
        (
            "The first sentence is the answer. What you do stands next, with a button each.",
            "Reports can be taken as PDF, or shared by a link that you can end again.",
            "Write down each unwanted alarm here, or that there was none; it takes a minute, and"
            " keeps the longer interval.",
        ),
    ),
    "owners:decide": Help("A finding", "What is wrong, what mending costs, and your answer."),
    "owners:alarm": Help(
        "An unwanted alarm", "When, where and what caused it, as far as you know."
    ),
    "owners:links": Help("Links", "Who can see this building by a link, and until when."),
    "owners:outlook": Help("The years ahead", "What falls due here, and in which year."),
    "demo:remove": Help("Remove what is invented", "What goes, before it goes."),
}

AREAS: dict[str, Help] = {
    "": Help("Driftbook", "Lists, history and work under way."),
    "agreements": Help("Agreements", "What was promised to a customer, from when to when."),
    "alarms": Help("Unwanted alarms", "Write one down with its cause, or compare the years."),
    "custody": Help("Records", "What is kept, how long, and the firm’s whole export."),
    "drift": Help("Drift", "What soiling does to detectors, and what cleaning buys."),
    "due": Help("Dates", "Rules, editions and records that make due dates; see what moves first."),
    "findings": Help("Findings", "Deficiencies and impairments, step by step."),
    "labels": Help("Labels", "Square codes on devices: print, bind, settle what is in dispute."),
    "notices": Help("Notices", "Mails that were owed: sent, waiting, not known."),
    "operations": Help("The server", "What ran, who did what, and how the server is."),
    "owners": Help("Owners", "What owners see, and what they have answered."),
    "people": Help("People", "Seats, licences and the firm’s own page."),
    "planning": Help("Planning", "Visits bundled, weeks by technician, calendars, day routes."),
    "power": Help("Batteries", "What a set must hold, what it holds, and its tests."),
    "programs": Help("Programs", "Tokens and hooks for other programs."),
    "readings": Help("Print-outs", "What came in, and what it means, row by row."),
    "register": Help("On file", "Customers, buildings, devices, products and instruments."),
    "reports": Help("Reports", "Sealed records as PDF, signed, and handed over."),
    "schedule": Help("Dates", "What falls due, when, and why."),
    "search": Help("Find", "Anything by words: devices, buildings, people, visits, findings."),
    "tablets": Help("Tablets", "Enrol one, see what it sent, settle what it could not."),
    "visits": Help("Visits", "From plan to sealed record."),
}

KEYS = (
    ("/", "find anything; also Ctrl and K together"),
    ("Tab, Shift and Tab", "the next and the last thing one can do; the first Tab skips to text"),
    ("Enter", "open the link, press the button"),
    ("Space", "press the button, tick the box"),
    ("arrow keys", "choose among several; move along a slide"),
)


def of(page: str) -> Help:
    """Give the help of a page by its name: its own, or its area's."""
    return PAGES.get(page) or AREAS.get(page.rpartition(":")[0]) or AREAS[""]


def context(*, page: str, is_owner: bool = False) -> dict[str, Any]:
    """Give a help page what it shows; an owner is told of the owner's pages."""
    mine = [item for item in PAGES.items() if item[0].startswith("owners:") == is_owner]
    return {
        "page": of(page),
        "states": list(STATES.items()),
        "keys": KEYS,
        "pages": sorted(mine, key=lambda item: item[1].name),
        "section": "-",
    }
