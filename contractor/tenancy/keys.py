"""Keys that grow with time, so that an index stays dense and a row's age can be read."""

import os
import time
from uuid import UUID


def uuid7() -> UUID:
    """Make a version 7 UUID (RFC 9562): 48 bits of milliseconds, then random bits.

    Keys made in the same millisecond have no order; end an ordering with a real column.
    """
    value = time.time_ns() // 10**6 << 80 | int.from_bytes(os.urandom(10))
    value = value & ~(0xF << 76) | 0x7 << 76
    value = value & ~(0x3 << 62) | 0x2 << 62
    return UUID(int=value)
