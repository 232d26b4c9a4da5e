"""The short code of a record: twelve letters and digits that a person can type."""

import re

#: Digits and letters without I, L, O, U. Source: Crockford, "Base 32", crockford.com/base32.html.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 12
_READ_AS = str.maketrans("OIL", "011")


def make_code(record_hash: str) -> str:
    """Make the code of a record from the first 60 bits of its hash.

    >>> make_code("9c417be052d8f316" + "0" * 48)
    'KH0QQR2JV3SH'
    """
    bits = int(record_hash[:15], 16)
    return "".join(ALPHABET[bits >> shift & 31] for shift in range(55, -5, -5))


def say_code(code: str) -> str:
    """Write a code in three groups, to be read aloud.

    >>> say_code("KH0QQR2JV3SH")
    'KH0Q-QR2J-V3SH'
    """
    return "-".join(code[at : at + 4] for at in range(0, LENGTH, 4))


def read_code(typed: str) -> str:
    """Read a code as it was typed: small letters, spaces and O for 0 are forgiven.

    A whole fingerprint gives its code too. Nothing else does: the answer is then empty.

    >>> read_code("kh0q qr2j-v3sh")
    'KH0QQR2JV3SH'
    >>> read_code("hello")
    ''
    """
    plain = re.sub(r"[\s-]", "", typed)
    if re.fullmatch(r"[0-9a-fA-F]{64}", plain):
        return make_code(plain.lower())
    code = plain.upper().translate(_READ_AS)
    return code if len(code) == LENGTH and set(code) <= set(ALPHABET) else ""
