"""The register: a folder of records, each chained to the one before it, and a head that counts.

What a folder holds:

==============================  ============================================================
`000001.json`, `000002.json` …  the sign-offs, and what was noted about one later: that it was
                                countersigned, withdrawn or run
`000001.json.preparer.sig` …    signatures of a record, where somebody signed with a key
`head.json`                     how many records there are, and the hash of the last
`.lock`                         held by whoever signs
`.….unplaced`                   a file that a broken-off sign-off left; the next one removes it
==============================  ============================================================

A change to any of it shows, with one exception: whoever writes the last records and the head anew,
as benchgate would, leaves a register that holds together. Against that only a copy of the head
kept elsewhere helps, or the signatures of people whose keys are their own.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from review.register import files, head, inspection
from review.register.entries import entry_problems
from review.register.head import Head, Pending
from review.register.record import (
    ROLES,
    BrokenRecord,
    Record,
    RecordError,
    read_record,
    sealed,
    sha256,
    to_the_second,
)
from review.register.signatures import fingerprint, sign
from review.render.words import clean

T = TypeVar("T")
Check = Callable[[tuple[Record, ...]], Sequence[str]]

#: How long a sign-off waits for its turn; somebody before it may be typing a passphrase.
LOCK_SECONDS = 300.0
#: A sign-off that waited no longer than this may be dated anew when its turn comes.
LONGEST_WAIT = timedelta(minutes=15)
#: How often a register is read anew because somebody signed meanwhile.
_ATTEMPTS = 50


class RefusedEntry(RecordError):
    """What stands in the register speaks against another entry; nothing was written."""


class Register:
    """A folder of records. Reading takes no lock; whoever signs waits for their turn.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     register = Register(Path(folder))
    ...     register.records(), register.problems()
    ((), ())
    """

    def __init__(self, folder: Path, lock_seconds: float = LOCK_SECONDS) -> None:
        self.folder = Path(folder)
        self._lock_seconds = lock_seconds

    def path(self, number: int) -> Path:
        """The file of a record, whether it is there or not."""
        return self.folder / inspection.record_name(number)

    def add(
        self,
        body: Mapping[str, Any],
        signers: Mapping[str, Path] | None = None,
        check: Check | None = None,
    ) -> Path:
        """Chain a composed record to the register; the path of its file.

        `signers` are private keys by role, exactly those that `body["keys"]` names. The folder is
        made where there is none. A record that had to wait for its turn is dated by the moment that
        came; `check` looks at the entries that are there then and says what speaks against another.
        Raises RecordError where it cannot be written or signed or the register is not in order;
        then the register is as it was.
        """
        keys = dict(signers or {})
        _must_be_named(body, keys)
        try:
            files.make(self.folder)
            with self._turn():
                now = self._in_order()
                self._ask(check)
                return self._chained(body, keys, now)
        except OSError as error:
            for path in (self.folder, *self.folder.parents):
                if os.path.isfile(path):
                    what = f"{clean(str(path))} is a file; a register is a folder"
                    raise RecordError(f"{what}, and nothing was signed") from error
            raise RecordError(
                f"{self._name} cannot be written ({error.strerror or error}); nothing was signed"
            ) from error

    def records(self) -> tuple[Record, ...]:
        """Every sign-off in order; raises as `entries` does."""
        return tuple(record for record in self.entries() if record.kind == "sign-off")

    def entries(self) -> tuple[Record, ...]:
        """Every sign-off and what was noted about one, in order.

        Raises RecordError where there is no such folder, and BrokenRecord where a record has been
        changed, is missing or does not follow the one before it.
        """

        def look() -> tuple[Record, ...]:
            seen = inspection.Inspection(self.folder)
            found = tuple(record for _, record in seen.walk())
            if seen.problems:
                raise BrokenRecord(f"{self._name}: {seen.problems[0]}")
            return found

        return self._steady(look)

    def problems(self) -> tuple[str, ...]:
        """Everything that shows that the register is not as it was signed, in words.

        Raises RecordError where there is no such folder or it cannot be read.
        """

        def look() -> tuple[str, ...]:
            seen = inspection.Inspection(self.folder)
            found = seen.all_problems()
            return (*found, *entry_problems(seen.entries))

        return self._steady(look)

    def notes(self) -> tuple[str, ...]:
        """What is no problem but worth knowing: a sign-off that was broken off."""
        return self._steady(lambda: inspection.Inspection(self.folder).notes())

    @property
    def _name(self) -> str:
        return clean(str(self.folder))

    def _steady(self, look: Callable[[], T]) -> T:
        """What is seen while nobody signs: looked at again where the head changed meanwhile."""
        if not os.path.isdir(self.folder):
            there = os.path.exists(self.folder)
            what = "is a file; a register is a folder" if there else "does not exist"
            raise RecordError(f"{self._name} {what}")
        for _ in range(_ATTEMPTS):
            before = self._stamp()
            try:
                seen = look()
            except (RecordError, OSError) as error:
                if before != self._stamp():
                    continue
                if isinstance(error, RecordError):
                    raise
                why = error.strerror or error
                raise RecordError(f"{self._name} cannot be read: {why}") from error
            if before == self._stamp():
                return seen
        raise RecordError(f"{self._name} changes all the time; try again when nobody signs")

    def _stamp(self) -> tuple[int, int, bytes] | None:
        """Another one whenever the head was replaced."""
        path = self.folder / head.NAME
        try:
            status = os.stat(path)
            return status.st_ino, status.st_mtime_ns, files.read(path)
        except (OSError, RecordError):
            return None

    @contextmanager
    def _turn(self) -> Iterator[None]:
        from filelock import FileLock, Timeout

        # Whoever may write in the folder may sign, so the lock is everybody's.
        lock = FileLock(self.folder / inspection.LOCK, timeout=self._lock_seconds, mode=0o666)
        try:
            lock.acquire()
        except Timeout:
            raise RecordError(
                f"somebody else has been signing in {self._name} for {self._lock_seconds:.0f} s; "
                "nothing was signed, try again"
            ) from None
        try:
            yield
        finally:
            lock.release()

    def _ask(self, check: Check | None) -> None:
        if check is None:
            return
        seen = inspection.Inspection(self.folder)
        for _ in seen.walk():
            pass
        if wrong := check(tuple(seen.entries)):
            raise RefusedEntry("; ".join(wrong))

    def _chained(self, body: Mapping[str, Any], keys: Mapping[str, Path], now: Head) -> Path:
        number = now.count + 1
        target = self.path(number)
        data = sealed(body, number, now.sha256)
        record = read_record(data, target.name)  # what cannot be read back is not written
        dated = self._dated(record, now)
        if dated != record.signed_at:
            data = sealed({**body, "signed_at": to_the_second(dated)}, number, now.sha256)
        signatures = [inspection.signature_of(target, role) for role in keys]
        announced = replace(now, pending=Pending(number, sha256(data)))
        told = False
        try:
            files.write(files.unplaced(target), data)
            for signature, key in zip(signatures, keys.values(), strict=True):
                files.write(files.unplaced(signature), sign(files.unplaced(target), key))
            told = True
            self._put(announced)
            for signature in signatures:
                files.place(signature)
            files.settle(self.folder)
            files.place(target)
            files.settle(self.folder)
        except BaseException as error:
            undone = self._undo((target, *signatures), now if told else None)
            if isinstance(error, OSError) and not undone:
                raise RecordError(
                    f"{self._name} cannot be written ({error.strerror or error}), and what was "
                    f"begun could not be taken back: look whether {target.name} is there; if it "
                    "is, it is signed"
                ) from error
            raise
        # The record is in its place and announced, so it counts, whether or not this succeeds.
        with suppress(OSError):
            self._put(announced.finished())
        return target

    def _undo(self, placed: tuple[Path, ...], before: Head | None) -> bool:
        """Take back what a sign-off that failed has written, and say whether that is done.

        `before` is the head to put back. It goes last: as long as the record is announced, it may
        be there or not. What is left unplaced harms nobody.
        """
        with suppress(OSError):
            for path in (*placed, self.folder / head.NAME):
                files.remove(files.unplaced(path))
        if before is None:
            return True
        try:
            for path in placed:
                files.remove(path)
            files.settle(self.folder)
        except OSError:
            return False
        with suppress(OSError):
            self._put(before)
        return True

    def _put(self, now: Head) -> None:
        path = self.folder / head.NAME
        files.write(files.unplaced(path), now.to_bytes())
        files.place(path)
        files.settle(self.folder)

    def _in_order(self) -> Head:
        """The head, once what a broken-off sign-off left is finished or cleared away.

        Looks at the head, the names and the last record; that is enough not to lose anything.
        """
        for name in os.listdir(self.folder):
            if files.is_unplaced(name):
                files.remove(self.folder / name)
        seen = inspection.Inspection(self.folder)
        now = seen.head
        pending = now.pending
        if pending is not None and not seen.problems:
            if seen.finished:
                now = now.finished()
            else:
                announced = self.path(pending.number)
                for role in ROLES:
                    files.remove(inspection.signature_of(announced, role))
                files.settle(self.folder)
                now = now.cleared()
            self._put(now)
            seen = inspection.Inspection(self.folder)
        problems = [*seen.problems, *seen.last_problems()]
        if problems:
            raise BrokenRecord(
                f"{self._name} is not in order, so nothing was signed: {'; '.join(problems)}. Keep "
                "it as it is and sign into another folder until somebody has found out why"
            )
        return now

    def _dated(self, record: Record, now: Head) -> datetime:
        """When a record enters the register: as it says, unless others came before it."""
        if not now.count:
            return record.signed_at
        last = self.path(now.count)
        try:
            newest = read_record(files.read(last), last.name).signed_at
        except (OSError, RecordError) as error:
            raise RecordError(f"{self._name}: {error}; nothing was signed") from error
        if record.signed_at >= newest:
            return record.signed_at
        clock = datetime.now(UTC)
        if clock < newest or not timedelta(0) <= clock - record.signed_at <= LONGEST_WAIT:
            raise RecordError(
                f"this would be signed at {to_the_second(record.signed_at)}, but {last.name} was "
                f"signed at {to_the_second(newest)} already: the clock of this computer, or of the "
                "one before, is wrong. Nothing was signed"
            )
        return clock


def _must_be_named(body: Mapping[str, Any], keys: Mapping[str, Path]) -> None:
    """A record names exactly the keys that sign it, and two people have two keys."""
    made = {role: fingerprint(key) for role, key in keys.items()}
    if body.get("keys") != made:
        raise RecordError("the keys that are to sign are not those that the record names")
    if len(set(made.values())) < len(made):
        raise RecordError(
            "preparer and reviewer would sign with the same key: each needs their own"
        )
