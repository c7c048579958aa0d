"""What is noted about a sign-off after it was written: countersigned, withdrawn, run.

Each is an entry of the same chain as the sign-offs, so that the head counts it and whatever is
removed, renamed, added again or put in another order shows. A countersignature holds a statement
that a second person may have signed on another machine, on a copy of the record.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from review.register.inspection import record_name
from review.register.questions import two_people
from review.register.record import Record, RecordError, canonical, to_the_second
from review.register.shape import Statement, wrong_in
from review.register.signatures import NoProgram, SignatureError, checked, signed_by
from review.register.signatures import sign as signature_by
from review.render.words import clean

T = TypeVar("T")

#: Clocks of two computers differ by less than this (common practice, no source).
CLOCKS_DIFFER = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class Countersignature:
    """What a second person says, and the signature that shows it; "" where no key signs."""

    text: str
    signature: str

    @property
    def told(self) -> Mapping[str, Any]:
        told: Mapping[str, Any] = json.loads(self.text)
        return told

    @property
    def reviewer(self) -> str:
        return str(self.told["reviewer"])

    @property
    def key(self) -> str:
        return str(self.told["key"])

    @property
    def signed_at(self) -> datetime:
        return datetime.fromisoformat(self.told["signed_at"])

    def to_bytes(self) -> bytes:
        """As a file that can be carried to where the register is."""
        return canonical({"statement": self.text, "signature": self.signature})


@dataclass(frozen=True, slots=True)
class Standing:
    """What has become of a sign-off. `problems` are entries that do not count, and why."""

    reviewer: str = ""
    countersigned: Countersignature | None = None
    withdrawn: Record | None = None
    runs: tuple[Record, ...] = ()
    problems: tuple[str, ...] = ()


def countersignature(
    record: Record, reviewer: str, compared: str, now: datetime, key: Path | None, print_: str
) -> Countersignature:
    """A second person's statement about a record, signed with a key where one is given."""
    text = canonical({
        "benchgate_countersignature": 1,
        "of": {"number": record.number, "sha256": record.sha256},
        "title": record.title,
        "reviewer": reviewer,
        "compared": compared,
        "signed_at": to_the_second(now),
        "key": print_,
    }).decode("ascii")  # fmt: skip
    if key is None:
        return Countersignature(text, "")
    with tempfile.TemporaryDirectory(prefix="benchgate-") as folder:
        file = Path(folder, "statement")
        file.write_bytes(text.encode("ascii"))
        return Countersignature(text, signature_by(file, key).decode("utf-8", "replace"))


def read_countersignature(data: bytes, name: str) -> Countersignature:
    """The countersignature in a file, be it carried by itself or an entry of a copied register.

    Raises RecordError where there is none.
    """
    try:
        told = json.loads(data.decode("utf-8"))
        found = Countersignature(told["statement"], told["signature"])
        wrong = wrong_in(found.told, Statement)
    except (ValueError, KeyError, TypeError, RecursionError):
        raise RecordError(f"{clean(name)} holds no countersignature") from None
    if wrong or canonical(found.told) != found.text.encode("utf-8"):
        raise RecordError(f"{clean(name)} holds no countersignature as benchgate writes it")
    return found


def entry(kind: str, record: Record, now: datetime, **told: Any) -> dict[str, Any]:
    """The body of an entry about a record, for `Register.add`."""
    return {
        "kind": kind,
        "signed_at": to_the_second(now),
        "keys": {},
        "of": {"number": record.number, "sha256": record.sha256},
        **told,
    }


def not_countersigned(
    record: Record, found: Countersignature, standing: Standing, now: datetime
) -> list[str]:
    """Why a countersignature does not count for a record, in words; `now` is when it comes in.

    `standing` is what the record's entries come to without it.
    """
    told, made = found.told, found.signed_at
    wrong = []
    if told["of"]["sha256"] != record.sha256:
        wrong.append("it is of another record, or of this one as it was not signed")
    if record.second == "nobody":
        wrong.append("the record was signed by one person and awaits nobody")
    elif record.second == "named" or standing.countersigned is not None:
        who = standing.reviewer or record.reviewer
        wrong.append(f"{clean(who)} has signed as the second person already")
    if standing.withdrawn is not None:
        wrong.append("the record was withdrawn before")
    wrong += two_people(record.preparer, found.reviewer, told_apart=True)
    if made < record.signed_at - CLOCKS_DIFFER:
        wrong.append("it is dated before the record that it is about")
    if made > now + CLOCKS_DIFFER:
        wrong.append("it is dated after it came in")
    if max(made, now).astimezone(UTC).date() > record.valid_until + timedelta(days=1):
        wrong.append(f"it came too late: {record.valid_until} was the last day of the record")
    return wrong + _key_problems(record, found)


def _key_problems(record: Record, found: Countersignature) -> list[str]:
    if not found.key:
        return ["a signature stands in it, but it names no key"] if found.signature else []
    if found.key in record.keys.values():
        return ["it was signed with the key of the preparer: each needs their own"]
    try:
        made_with = _with_files(found, signed_by)
    except NoProgram:
        raise
    except SignatureError as error:
        return [str(error)]
    if made_with != found.key:
        return [f"it was signed with {made_with}, but names {found.key}"]
    return []


def checked_countersignature(found: Countersignature, allowed: Path) -> tuple[str, str]:
    """Who made it, by an allowed-signers file; raises SignatureError where nobody allowed did."""
    return _with_files(
        found,
        lambda file, sig: checked(file, sig, allowed, found.reviewer, found.signed_at),
    )


def _with_files(found: Countersignature, look: Callable[[Path, Path], T]) -> T:
    with tempfile.TemporaryDirectory(prefix="benchgate-") as folder:
        file, sig = Path(folder, "countersignature"), Path(folder, "countersignature.sig")
        file.write_bytes(found.text.encode("utf-8"))
        sig.write_bytes(found.signature.encode("utf-8"))
        return look(file, sig)


def standing(record: Record, entries: Sequence[Record]) -> Standing:
    """What the entries of a register come to for one sign-off, in their order."""
    now = Standing(reviewer=record.reviewer)
    for each in entries:
        if each.kind == "sign-off" or each.of[1] != record.sha256:
            continue
        name = record_name(each.number)
        wrong: Iterable[str] = ()
        if each.number <= record.number or each.of[0] != record.number:
            wrong = ("it stands before what it is about",)
        elif each.kind == "withdrawal":
            now = replace(now, withdrawn=now.withdrawn or each)
        elif each.kind == "run":
            now = replace(now, runs=(*now.runs, each))
        else:
            try:
                found = read_countersignature(
                    canonical({k: each.data[k] for k in ("statement", "signature")}), name
                )
                wrong = not_countersigned(record, found, now, each.signed_at)
            except NoProgram:
                raise
            except RecordError as error:
                wrong = (str(error),)
            if not wrong:
                now = replace(now, countersigned=found, reviewer=found.reviewer)
        told = tuple(f"the countersignature {name} does not count: {why}" for why in wrong)
        now = replace(now, problems=(*now.problems, *told))
    return now


def entry_problems(entries: Sequence[Record]) -> tuple[str, ...]:
    """Entries that do not count, or are about no sign-off of this register, in words."""
    signed = [record for record in entries if record.kind == "sign-off"]
    known = {record.sha256 for record in signed}
    return (
        *(problem for record in signed for problem in standing(record, entries).problems),
        *(
            f"{record_name(each.number)} speaks of record {each.of[0]}, which is not here as it "
            "was signed"
            for each in entries
            if each.kind != "sign-off" and each.of[1] not in known
        ),
    )
