"""Limits of obscuration that hold where the detector itself says nothing. [%/ft]"""

# NFPA 72, sensitivity clauses of the testing chapter (1999: 7-3.2.1, later restated): a detector
# without a marked range is judged by 4 percent obscuration, light gray smoke. Confirmed by two
# federal survey reports (2013 and 2024), except for "per foot", which is from memory.
UNMARKED_HIGH = 4.0

# UL 268, black smoke: the widest that any listed smoke detector may be (from memory, check
# against a licensed copy). A check on what was typed, never a range to judge by.
PLAUSIBLE_HIGH = 10.0
