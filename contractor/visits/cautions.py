"""The cautions that are shown before work and printed with it. Common practice of the trade.

Source: the tests-before-and-after clauses of NFPA 72's testing chapter (14.2.4 to 14.2.6 in the
2013 edition, from memory) for who is told and how releasing systems are secured; the rest is
common practice, no source.
"""

from collections.abc import Sequence

from contractor.register.models import Building

CAUTIONS = (
    "Put the account on test with the supervising station: who, when, until when. Take it off "
    "afterwards and make sure that signals arrived.",
    "Tell the occupants, and the fire service where the local rule asks for it. Agree what is "
    "said and done if a real alarm comes during the test.",
    "Do not begin before the releasing circuits are known: disconnect, tag and count; reconnect "
    "and count again.",
    "Elevator recall and shunt trip: have an elevator technician at hand, or keep the cars empty.",
    "Agree times for smoke control, fans, doors and dampers. Each bypass stays an open item until "
    "it is restored.",
    "Hospitals, laboratories, data halls and process plants: get the owner's permit first.",
    "On a larger system work in twos, one of them at the control unit. Test inputs silently "
    "first, and outputs once at the end.",
    "Waterflow tests need a drain that may be used, and a thought for frost.",
    "Ladders, live control units, lead-acid batteries, asbestos: keep to the safety rules of the "
    "place.",
    "Leave no bypass, open cabinet, dead battery or disabled point behind.",
    "Ionization detectors hold a radioactive source: return them, never bin them.",
)
#: Printed with the record beside those that were acknowledged.
PRINTED = (
    "What was not tested is listed with its reason, as prominently as what passed.",
    "Local law comes before anything printed here: licences, tags, forms, reporting and the "
    "approval of an extended interval.",
)
STATEMENT = (
    "This report states what was tested, on which day, to which edition, by whom and with what "
    "result. Whether the installation meets the adopted code is for the authority having "
    "jurisdiction to decide; local rules come before anything printed here."
)


def list_cautions(*, building: Building) -> list[str]:
    """List what to acknowledge before the first test; the building's own circuits come first."""
    own = [f"Secure first, and count: {building.releasing.strip()}"] if building.releasing else []
    return [*own, *CAUTIONS]


def list_unread(*, building: Building, acknowledged: Sequence[str]) -> list[str]:
    """List the cautions that were not acknowledged."""
    return [one for one in list_cautions(building=building) if one not in acknowledged]
