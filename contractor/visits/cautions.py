"""The cautions that are shown before work and printed with it. Common practice of the trade."""

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
    "Leave no bypass, open cabinet, dead battery or disabled point behind.",
    "Ionization detectors hold a radioactive source: return them, never bin them.",
)
STATEMENT = (
    "This report states what was tested, on which day, to which edition, by whom and with what "
    "result. Whether the installation meets the adopted code is for the authority having "
    "jurisdiction to decide; local rules come before anything printed here."
)
