"""Names of rows: UUIDs that sort by the time they were made (RFC 9562, version 7)."""

import os
import time
import uuid


def uuid7() -> uuid.UUID:
    """A new UUID version 7: 48 bits of Unix time in ms, 74 random bits. A name, not a secret.

    Source: RFC 9562, section 5.7.
    """
    stamp = time.time_ns() // 1_000_000
    random = int.from_bytes(os.urandom(10), "big")
    value = (stamp & (1 << 48) - 1) << 80 | 7 << 76 | (random >> 64 & 0xFFF) << 64
    value |= 0b10 << 62 | random & (1 << 62) - 1
    return uuid.UUID(int=value)
