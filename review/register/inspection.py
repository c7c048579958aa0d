"""What there is to say about the files of a register, without changing any of them."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path

from review.register import files, head
from review.register.head import Head
from review.register.record import (
    ROLES,
    Record,
    RecordError,
    looks_like_record,
    read_record,
    sha256,
    to_the_second,
)
from review.register.signatures import NoProgram, SignatureError, signed_by
from review.render.words import clean

LOCK = ".lock"
_RECORD = re.compile(r"0*([1-9]\d{0,17})\.json", re.ASCII)
_SIGNATURE = re.compile(r"(\d{1,18})\.json\..*\.sig", re.ASCII)


def record_name(number: int) -> str:
    """The file name of a record.

    >>> record_name(12)
    '000012.json'
    """
    return f"{number:06d}.json"


def signature_of(record: Path, role: str) -> Path:
    """The file of a record's signature by a role."""
    return record.with_name(f"{record.name}.{role}.sig")


def in_a_register(path: Path) -> bool:
    """Whether what stands beside a record belongs to a register, even if that lost its head."""
    names = os.listdir(path.parent)
    others = any(_is_of_record(name) and name != path.name for name in names)
    return others or head.NAME in names or LOCK in names


def record_files(folder: Path) -> list[Path]:
    """What stands in the places of records, in order, whether or not it is one."""
    return [
        folder / name for name in sorted(os.listdir(folder), key=_by_number) if _is_of_record(name)
    ]


def _is_of_record(name: str) -> bool:
    found = _RECORD.fullmatch(name)
    return found is not None and name == record_name(int(found[1]))


def _by_number(name: str) -> tuple[int, str]:
    return len(name), name


class Inspection:
    """One look at a register. `problems` grows as more of it is looked at.

    `finished`: the record that the head announces is in its place and counts.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.problems: list[str] = []
        self.entries: list[Record] = []
        known = self._read_head()
        self.head = known or head.EMPTY
        # Before the names: of a record that takes its place just now they may speak or not.
        self.finished = self._is_finished()
        self.names = sorted(os.listdir(folder))
        numbers = (int(found[1]) for found in map(_RECORD.fullmatch, self.names) if found)
        there = {n for n in numbers if record_name(n) in self.names}
        if self.head.pending is not None and not self.finished:
            there.discard(self.head.pending.number)
        self.count = self.head.count + self.finished
        if known is None:  # all that is there is looked at
            self.count = max(there, default=0)
            if there and not self.problems:
                self.problems.append(
                    f"{head.NAME} is missing: nothing shows whether records were cut off at the end"
                )
        self.numbers = sorted(n for n in there if n <= self.count)
        self._known = {head.NAME}
        self._note_missing()
        self._note_beyond(there)

    def all_problems(self) -> tuple[str, ...]:
        """Everything that is not as it was signed."""
        for path, record in self.walk():
            self._check_signatures(path, record)
        self._note_strangers()
        return tuple(self.problems)

    def notes(self) -> tuple[str, ...]:
        """A sign-off that was broken off, and what becomes of it."""
        if self.head.pending is None:
            return ()
        name = record_name(self.head.pending.number)
        if self.finished:
            return (f"the sign-off of {name} was broken off at its very end; {name} counts",)
        return (f"a sign-off was broken off before {name} was in its place; it does not count",)

    def walk(self) -> Iterator[tuple[Path, Record]]:
        """Every record that can be read, in order; whether each follows the one before it.

        `entries` has them afterwards.
        """
        before: Record | None = None
        for number in self.numbers:
            path = self.folder / record_name(number)
            record = self._read(path)
            if record is None:
                # Which keys it named nobody can tell.
                self._known.update(signature_of(path, role).name for role in ROLES)
                before = None
                continue
            if self._in_its_place(record, number):
                self._check_link(path.name, record, before)
                if number == self.head.count:
                    self._check_head(path.name, record)
                before = record
            else:  # what stands in a wrong place tells nothing of what follows it
                before = None
            self.entries.append(record)
            yield path, record

    def last_problems(self) -> list[str]:
        """What is wrong with the last record; of the others only whether they are there."""
        found = len(self.problems)
        if self.count and self.numbers[-1:] == [self.count]:
            path = self.folder / record_name(self.count)
            record = self._read(path)
            if record is not None and self._in_its_place(record, self.count):
                self._check_head(path.name, record)
        return self.problems[found:]

    # The head

    def _read_head(self) -> Head | None:
        """None where there is none, or none that can be read."""
        try:
            return head.parse(files.read(self.folder / head.NAME))
        except FileNotFoundError:
            return None
        except RecordError as error:
            self.problems.append(str(error))
            return None

    def _is_finished(self) -> bool:
        """Whether the record that the head announces is in its place."""
        pending = self.head.pending
        if pending is None:
            return False
        name = record_name(pending.number)
        try:
            there = sha256(files.read(self.folder / name)) == pending.sha256
        except FileNotFoundError:
            return False
        except RecordError:
            there = False
        if not there:
            self.problems.append(
                f"{name} is not the record that was being signed: it was changed or inserted"
            )
        return there

    def _check_head(self, name: str, record: Record) -> None:
        if record.sha256 != self.head.sha256:
            self.problems.append(
                f"{name} is not the last record that {head.NAME} knows: one of the two was "
                "exchanged"
            )

    # The records

    def _note_missing(self) -> None:
        for before, after in pairwise((0, *self.numbers, self.count + 1)):
            if after - before > 1:
                first, last = record_name(before + 1), record_name(after - 1)
                named = f"{first} is" if first == last else f"{first} to {last} are"
                tail = f" ({head.NAME} counts {self.count})" if after > self.count else ""
                self.problems.append(f"{named} missing{tail}")

    def _note_beyond(self, there: Iterable[int]) -> None:
        for number in sorted(n for n in there if n > self.count):
            self.problems.append(
                f"{record_name(number)} is one more than {head.NAME} counts ({self.count}): it was "
                f"inserted, or {head.NAME} is an older one"
            )

    def _read(self, path: Path) -> Record | None:
        try:
            return read_record(files.read(path), path.name)
        except FileNotFoundError:
            self.problems.append(f"{path.name} is missing")
        except RecordError as error:
            self.problems.append(str(error))
        return None

    def _in_its_place(self, record: Record, number: int) -> bool:
        if record.number == number:
            return True
        self.problems.append(
            f"{record_name(number)} holds record {record.number}: it stands out of order"
        )
        return False

    def _check_link(self, name: str, record: Record, before: Record | None) -> None:
        """Whether a record follows the one before it, or begins the register."""
        if record.number == 1 and record.previous:
            self.problems.append(f"{name} follows another record, which was removed")
        if before is None or before.number != record.number - 1:
            return
        if record.previous != before.sha256:
            self.problems.append(
                f"{name} does not follow {record_name(before.number)}: one of them was exchanged, "
                "or a record was removed or inserted between them"
            )
        if record.signed_at < before.signed_at:
            self.problems.append(
                f"{name} is dated {to_the_second(record.signed_at)}, before the record that it "
                f"follows ({to_the_second(before.signed_at)})"
            )

    def _check_signatures(self, path: Path, record: Record) -> None:
        """Whether the keys that a record names have signed the file as it is."""
        if len(set(record.keys.values())) < len(record.keys):
            self.problems.append(f"{path.name}: preparer and reviewer signed with the same key")
        for role, key in record.keys.items():
            signature = signature_of(path, role)
            self._known.add(signature.name)
            if signature.name not in self.names:
                self.problems.append(
                    f"{signature.name} is missing: {path.name} says that its {role} signed it"
                )
                continue
            try:
                made_with = signed_by(path, signature)
            except NoProgram:
                raise
            except SignatureError as error:
                self.problems.append(str(error))
                continue
            if made_with != key:
                self.problems.append(
                    f"{signature.name} was made with the key {made_with}, not with the {key} that "
                    f"{path.name} names"
                )

    # Everything else

    def _note_strangers(self) -> None:
        """Files that pretend to belong to the register."""
        ours = {record_name(n) for n in self.numbers} | self._known
        pending = self.head.pending
        if pending is not None and not self.finished:
            announced = self.folder / record_name(pending.number)
            ours |= {signature_of(announced, role).name for role in ROLES}
        for name in self.names:
            found = _RECORD.fullmatch(name)
            counted = found and name == record_name(int(found[1]))  # said already
            if name in ours or counted or files.is_unplaced(name):
                continue
            shown = clean(name)
            signature = _SIGNATURE.fullmatch(name)
            if signature:
                number = int(signature[1])
                if number in self.numbers or number > self.count:  # else its record is missing
                    self.problems.append(f"{shown} is a signature that no record speaks of")
            elif self._pretends(name):
                self.problems.append(f"{shown} looks like a record, but is none of this register")

    def _pretends(self, name: str) -> bool:
        path = self.folder / name
        if not os.path.isfile(path):
            return False
        try:
            return looks_like_record(files.read(path))
        except (OSError, RecordError):
            return False
