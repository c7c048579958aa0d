"""The two answers about a record: is it as it was signed, and may it still be used?"""

from __future__ import annotations

from dataclasses import dataclass

from review.register.entries import Standing
from review.register.record import Record


@dataclass(frozen=True, slots=True)
class Point:
    """One thing that was looked at, what was found in words, and whether it is as it should be.

    `idle`: it does not hold, and all the same nothing is wrong: the record is not in use.
    """

    subject: str
    lines: tuple[str, ...]
    holds: bool = True
    idle: bool = False


#: What tells whether a record is as it was signed; all else, whether it may still be used.
OF_INTACT = ("Record", "Register", "Signatures", "Noted later")


@dataclass(frozen=True, slots=True)
class Verified:
    """The two answers about one record; `record` is None where it cannot be read.

    `standing` is what was noted about it later in its register.
    """

    name: str
    record: Record | None
    points: tuple[Point, ...]
    broken: bool = False
    expired: bool = False
    standing: Standing = Standing()

    @property
    def failing(self) -> tuple[Point, ...]:
        return tuple(point for point in self.points if not point.holds)

    @property
    def reasons(self) -> tuple[str, ...]:
        """All that does not hold, a line each, without the words that only lead to a list."""
        return tuple(
            line
            for point in self.failing
            for line in (point.lines[1:] if point.lines[0].endswith(":") else ()) or point.lines
        )

    @property
    def intact(self) -> bool:
        """The first answer: it is as it was signed."""
        return not self.broken and not any(p.subject in OF_INTACT for p in self.failing)

    @property
    def sound(self) -> bool:
        """Whether everything holds, or the record is not in use."""
        return not self.broken and all(point.idle for point in self.failing)

    @property
    def holds(self) -> bool:
        """Both answers: it is intact, and may be used today."""
        return not (self.broken or self.expired or self.failing)


@dataclass(frozen=True, slots=True)
class VerifiedRegister:
    """A register: its records in order, and what is to be said about the folder as a whole.

    `asked` is the record that a scenario was compared with, None where none was asked for.
    """

    name: str
    records: tuple[Verified, ...]
    points: tuple[Point, ...]
    asked: Verified | None = None

    @property
    def holds(self) -> bool:
        """A record that has expired costs nothing, unless it is the one that was asked for."""
        return (
            all(point.holds for point in self.points)
            and all(each.sound for each in self.records)
            and (self.asked is None or self.asked.holds)
        )
