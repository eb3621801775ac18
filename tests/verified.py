"""What a check of the record finds, without the digests by which one finding is told from a later one."""

from __future__ import annotations

import msgspec

from suffice.record.verify import Found, verify


def found_by_verify() -> tuple[Found, ...]:
    """In the order in which it finds them."""
    return tuple(msgspec.structs.replace(one, digest="") for one in verify().found)
