"""Codes for labels: random characters and one that checks them.

A code says nothing of what it hangs on. Its last character is the check character of ISO/IEC 7064,
MOD 37-2: 37 is prime and the weights are powers of two, so every single wrong character and every
two neighbours that change places are noticed.
"""

import re
from collections.abc import Callable

#: What codes are drawn from: no I, L, O, U, which are taken for 1, 1, 0, V.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 12
#: How many of the last characters are printed large, and are enough to type.
TAIL = 4
#: The longest code of somebody else's that is kept.
LONGEST = 120
_VALUES = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_MODULUS = 37
_TAKEN_FOR = str.maketrans({"I": "1", "L": "1", "O": "0"})
_ADDRESS = re.compile(r"https?://[^/\s]+/d/([0-9a-z-]+)/?", re.IGNORECASE)
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]+")


def check_character(text: str) -> str:
    """Work out the check character of a text.

    Parameters
    ----------
    text : characters 0 to 9 and A to Z

    Raises
    ------
    ValueError
        If the text holds any other character.

    Source: ISO/IEC 7064:2003, pure system MOD 37-2. The example is of python-stdnum's documentation
    (iso7064.mod_37_2), which is independent of this code.

    >>> check_character("G123489654321")
    'Y'
    """
    return _VALUES[(1 - 2 * _sum(text)) % _MODULUS]


def _sum(text: str) -> int:
    found = 0
    for character in text:
        found = (2 * found + _VALUES.index(character)) % _MODULUS
    return found


def is_code(text: str) -> bool:
    """Tell whether a text is a code as it is printed: twelve characters, the last one fits.

    >>> is_code("7Q2MK4XD9F34"), is_code("7Q2MK4XD9F3T")
    (True, False)
    """
    return len(text) == LENGTH and set(text) <= set(ALPHABET) and _sum(text) == 1


def draw_code(pick: Callable[[int], int]) -> str:
    """Draw a new code.

    A draw whose check character would be taken for another one is drawn again; of 37 it may be,
    32 may stay.

    Parameters
    ----------
    pick : answers a random whole number from 0 to below the one it is given

    >>> draw_code(lambda below: 2)
    '22222222222R'
    """
    while True:
        body = "".join(ALPHABET[pick(len(ALPHABET))] for _ in range(LENGTH - 1))
        last = check_character(body)
        if last in ALPHABET:
            return body + last


def read_code(text: str) -> str:
    """Read a code as a person types it; empty where it is none.

    Small letters, spaces and hyphens do not matter, and I, L, O stand for what they were taken for.

    >>> read_code("7q2m-k4xd-9f34")
    '7Q2MK4XD9F34'
    >>> read_code("7q2m-k4xd-9f3t")
    ''
    """
    code = read_tail(text)
    return code if is_code(code) else ""


def read_tail(text: str) -> str:
    """Read the last characters of a code as a person types them, with what they were taken for.

    >>> read_tail("d9-fl4")
    'D9F14'
    """
    return compact(text).translate(_TAKEN_FOR)


def compact(text: str) -> str:
    """Leave out what does not matter in a code that is typed.

    >>> compact(" 9f-34 ")
    '9F34'
    """
    return re.sub(r"[\s-]+", "", text.upper())


def read_scanned(text: str) -> str:
    """Read what a camera saw: our code out of an address or bare, else the text itself.

    >>> read_scanned("HTTPS://LABELS.EXAMPLE/D/7Q2MK4XD9F34")
    '7Q2MK4XD9F34'
    >>> read_scanned("  SN 0042-A ")
    'SN 0042-A'
    """
    text = " ".join(_CONTROL.sub("", text).split())
    found = _ADDRESS.fullmatch(text)
    return read_code(found[1] if found else text) or text[:LONGEST]


def say_code(code: str) -> str:
    """Write a code for people, in groups; what is not ours stays as it is.

    >>> say_code("7Q2MK4XD9F34")
    '7Q2M-K4XD-9F34'
    """
    if not is_code(code):
        return code
    return "-".join(code[at : at + TAIL] for at in range(0, LENGTH, TAIL))
