"""The head of a register: how many records it holds and which is the last, so that none is cut off.

A sign-off is announced here before its record takes its place, and counted afterwards. So whatever
moment it is broken off at, the head tells what belongs to the register.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass

from review.register.record import BrokenRecord, RecordError, canonical

NAME = "head.json"
FORMAT = 1

_HASH = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Pending:
    """A sign-off that is under way: the number its record will have, and the record's hash."""

    number: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Head:
    """`count` records, the last of which has this hash ("" where there is none)."""

    count: int
    sha256: str
    pending: Pending | None = None

    def finished(self) -> Head:
        """As it is once the sign-off under way counts."""
        return Head(self.pending.number, self.pending.sha256) if self.pending else self

    def cleared(self) -> Head:
        """As it is once the sign-off under way is given up."""
        return Head(self.count, self.sha256)

    def to_bytes(self) -> bytes:
        """The bytes of head.json."""
        pending = self.pending and {"number": self.pending.number, "sha256": self.pending.sha256}
        return canonical({
            "benchgate_register": FORMAT,
            "count": self.count,
            "sha256": self.sha256,
            "pending": pending,
        })  # fmt: skip


EMPTY = Head(0, "")


def parse(data: bytes) -> Head:
    """The head in the bytes of head.json.

    Raises RecordError for one of a newer benchgate and BrokenRecord for what none has written.
    """
    changed = BrokenRecord(f"{NAME} has been changed: it can no longer be read")
    try:
        body = json.loads(data.decode("utf-8"))
        version = body["benchgate_register"]
        if isinstance(version, int) and version > FORMAT:
            raise RecordError(
                f"{NAME} was written by a newer benchgate (format {version}; this one knows up to "
                f"{FORMAT}): update benchgate to read this register"
            )
        pending = body["pending"] and Pending(body["pending"]["number"], body["pending"]["sha256"])
        head = Head(body["count"], body["sha256"], pending or None)
        good = head.to_bytes() == data and _holds_together(head)
    except (AttributeError, KeyError, RecursionError, TypeError, ValueError):
        raise changed from None
    if not good:
        raise changed
    return head


def _holds_together(head: Head) -> bool:
    if type(head.count) is not int or head.count < 0:
        return False
    if not (_HASH.fullmatch(head.sha256) if head.count else head.sha256 == ""):
        return False
    pending = head.pending
    return pending is None or (
        pending.number == head.count + 1 and _HASH.fullmatch(pending.sha256) is not None
    )
