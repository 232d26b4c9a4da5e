"""Pages that are not needed each day: one page lists them all, by what they are for."""

from collections.abc import Callable
from typing import NamedTuple

from django.urls import NoReverseMatch, reverse

from contractor.tenancy.permissions import Permission


class Book(NamedTuple):
    """One page of the firm: its name, what somebody finds there, and who may open it."""

    label: str
    about: str
    name: str
    needs: Permission = Permission.READ


class Shelf(NamedTuple):
    """Pages of one kind."""

    label: str
    books: tuple[Book, ...]


SHELVES = (
    Shelf(
        "Work",
        (
            Book(
                "How we are doing",
                "on time, open findings by age, forecasts that came true",
                "schedule:doing",
            ),
            Book(
                "Agreements",
                "what was promised, until when, beside what the code asks",
                "agreements:list",
            ),
            Book(
                "Battery sets",
                "every set with its age, its tests and what it must hold",
                "power:firm",
            ),
            Book(
                "Answers",
                "when was it tested, where is this product, what was missed",
                "search:answers",
            ),
            Book("Lists you kept", "filters you named, yours and the firm’s", "kept_lists"),
            Book(
                "Calendars",
                "visits in a calendar of your own, by a secret address",
                "planning:feeds",
                Permission.MANAGE,
            ),
            Book("Usual findings", "the firm’s own library of deficiencies", "findings:titles"),
        ),
    ),
    Shelf(
        "Rules",
        (
            Book("Codes", "what each edition asks, how often, by which clause", "due:rules"),
            Book("Local rules", "what a jurisdiction asks beyond its edition", "due:local_rules"),
            Book(
                "Drift policy",
                "from which share on a detector counts as nearing its limit",
                "drift:policy",
                Permission.MANAGE,
            ),
            Book(
                "Forecasts that came true",
                "what was foreseen, held against what came",
                "drift:accuracy",
            ),
        ),
    ),
    Shelf(
        "Things",
        (
            Book(
                "Products", "detectors’ marked ranges and compensation limits", "register:products"
            ),
            Book(
                "Instruments",
                "what is tested with, and until when it is calibrated",
                "register:instruments",
            ),
            Book("Labels", "who has one, what was printed when, codes in dispute", "labels:firm"),
            Book("Tablets", "which are enrolled, when each was last heard of", "tablets:list"),
        ),
    ),
    Shelf(
        "Messages and proof",
        (
            Book(
                "Notices",
                "every mail that was owed: sent, waiting, not known",
                "notices:list",
                Permission.MANAGE,
            ),
            Book("How long records are kept", "until when, by which rule; holds", "custody:kept"),
            Book("What owners see", "which owners see which buildings", "owners_overview"),
            Book(
                "Signing of reports",
                "the key that the firm’s reports are signed with",
                "reports:signing",
                Permission.ADMINISTER,
            ),
            Book(
                "The firm’s whole export",
                "everything on file, to keep or to move",
                "custody:exports",
                Permission.ADMINISTER,
            ),
        ),
    ),
    Shelf(
        "Firm and server",
        (
            Book("The firm", "name, letterhead, licences, time zone, paper", "people:firm"),
            Book("People", "who works here, with their licences; invite, part with", "people:list"),
            Book(
                "Last nights", "what each night’s work did, and how long it took", "people:nights"
            ),
            Book(
                "How the server is",
                "backups, mail, queue, last night",
                "operations:health",
                Permission.ADMINISTER,
            ),
        ),
    ),
)


def stock(
    *, firm: str, may: Callable[[Permission], bool]
) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """List the shelves with label, use and address of each page that somebody may open."""
    shelves = []
    for shelf in SHELVES:
        books = []
        for book in shelf.books:
            try:
                url = reverse(book.name, kwargs={"firm": firm})
            except NoReverseMatch:
                continue
            if may(book.needs):
                books.append((book.label, book.about, url))
        if books:
            shelves.append((shelf.label, books))
    return shelves
