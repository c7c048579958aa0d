"""A record: one signed-off review as a file that holds everything it rests on.

Its bytes are the one canonical form of what it says, and a hash over everything else stands in it,
so a byte that was changed is found in the file alone. That somebody wrote another record in its
place is found by the register, which chains each record to the one before it.
"""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from review.cautions import CAUTIONS
from review.interface.result import Review
from review.judge.effective import ruleset_to_json
from review.judge.ruleset import Ruleset
from review.judge.stored import plain_number
from review.provenance import code_hash, libraries
from review.register.questions import Question, Signing, questions, refusals
from review.register.shape import misshapen
from review.render.json import to_json
from review.render.words import clean
from review.scenario import Scenario

__all__ = [
    "FORMAT", "BrokenRecord", "Question", "Record", "RecordError", "Signing", "canonical",
    "compose", "looks_like_record", "questions", "read_record", "refusals", "sealed", "sha256",
    "to_the_second",
]  # fmt: skip

#: The newest version of the format. A record of a later one is refused, not guessed at. What two
#: people sign at once is written in the first, which every benchgate reads.
FORMAT = 2
_FIRST = 1
#: Who may sign a file of a register with a key; `signer` whatever is noted about a sign-off.
ROLES = ("preparer", "reviewer", "signer")
#: A scenario is 4 MB at most, and its review comes to a few times that.
LARGEST = 64_000_000


class RecordError(Exception):
    """A record or register cannot be read, written or signed; the message says why, in words."""


class BrokenRecord(RecordError):
    """What was a record once has been changed."""


@dataclass(frozen=True, slots=True)
class Record:
    """One record as it was read: `data` is what it says, `sha256` the hash of the file's bytes."""

    data: Mapping[str, Any]
    sha256: str

    @property
    def kind(self) -> str:
        """`sign-off`, or what was noted about one: `countersignature`, `withdrawal` or `run`."""
        return str(self.data.get("kind", "sign-off"))

    @property
    def of(self) -> tuple[int, str]:
        """Number and hash of the sign-off that an entry of another kind is about."""
        return int(self.data["of"]["number"]), str(self.data["of"]["sha256"])

    @property
    def second(self) -> str:
        """The second person: `named`, `later` (awaited) or `nobody` (one person signs)."""
        return str(self.data.get("second", "named"))

    @property
    def number(self) -> int:
        """Its place in the register, from 1."""
        return int(self.data["number"])

    @property
    def previous(self) -> str:
        """Hash of the record before it; "" of the first."""
        return str(self.data["previous"])

    @property
    def signed_at(self) -> datetime:
        return datetime.fromisoformat(self.data["signed_at"])

    @property
    def valid_until(self) -> date:
        """The last day on which it holds."""
        return date.fromisoformat(self.data["valid_until"])

    @property
    def runs(self) -> int:
        return int(self.data["runs"])

    @property
    def preparer(self) -> str:
        return str(self.data["preparer"])

    @property
    def reviewer(self) -> str:
        return str(self.data["reviewer"])

    @property
    def keys(self) -> Mapping[str, str]:
        """Fingerprint of the key that signs for a role; a role without a key is left out."""
        keys: Mapping[str, str] = self.data["keys"]
        return keys

    @property
    def title(self) -> str:
        return str(self.data["scenario"]["title"])

    @property
    def scenario_text(self) -> str:
        """The scenario file as it was."""
        return str(self.data["scenario"]["text"])

    @property
    def scenario_sha256(self) -> str:
        return str(self.data["scenario"]["sha256"])

    @property
    def verdict(self) -> str:
        return str(self.data["review"]["verdict"])


def compose(
    review: Review,
    scenario: Scenario,
    ruleset: Ruleset,
    signing: Signing,
    now: datetime,
    keys: Mapping[str, str],
    also: tuple[Question, ...] = (),
) -> dict[str, Any]:
    """What a record says, but for its number, the hash of the one before it and its seal.

    `scenario` was read from a file, which is read once more for its text. `keys` are the
    fingerprints of the keys that will sign, by role; `also` is asked besides what the review asks.
    Raises RecordError where the review may not be signed like this, or the file is no longer the
    one that was reviewed.
    """
    refused = refusals(review, signing, now, also)
    if refused:
        raise RecordError("this review may not be signed: " + "; ".join(refused))
    asked = (*questions(review), *also)
    told = to_json(review)
    file = Path(scenario.path).name
    body: dict[str, Any] = plain({
        "signed_at": to_the_second(now),
        "valid_until": signing.valid_until.isoformat(),
        "runs": signing.runs,
        "preparer": signing.preparer,
        "reviewer": signing.reviewer,
        "keys": dict(keys),
        "scenario": {
            "title": scenario.title,
            "file": file,
            "sha256": scenario.text_sha256,
            "text": _text_of(scenario, review),
        },
        "ruleset": ruleset_to_json(ruleset),
        "review": {**told, "scenario": {**told["scenario"], "path": file}},
        "data": [
            {"kind": d.kind, "name": d.name, "file": d.file, "sha256": d.sha256}
            for d in review.data
        ],
        "tool": {
            "benchgate": review.version,
            "code": code_hash(),
            "python": platform.python_version(),
            "libraries": libraries(),
            "plugins": [{"name": p.name, "sha256": p.sha256} for p in review.plugins],
        },
        "conditions": [
            {**_place(q), "action": q.action, "confirmed": signing.accepted[q.id]}
            for q in asked
            if q.id in signing.accepted
        ],
        "answers": [
            {**_place(q), "role": signing.answered[q.id][0], "reason": signing.answered[q.id][1]}
            for q in asked
            if q.id in signing.answered
        ],
        "cautions": list(CAUTIONS),
    })  # fmt: skip
    if signing.second != "named":
        body |= {"kind": "sign-off", "second": signing.second}
    return body


def sealed(body: Mapping[str, Any], number: int, previous: str) -> bytes:
    """The bytes of a record's file: the body, its place in the chain and the seal over both."""
    version = FORMAT if "kind" in body else _FIRST
    whole = {**body, "benchgate_record": version, "number": number, "previous": previous}
    whole.pop("seal", None)
    try:
        return canonical({**whole, "seal": sha256(canonical(whole))})
    except (TypeError, ValueError, RecursionError) as error:
        raise RecordError(f"this cannot be written as a record: {error}") from error


def read_record(data: bytes, name: str) -> Record:
    """The record in a file's bytes; `name` stands for the file in messages.

    Raises RecordError for what is no record or comes from a newer benchgate, and BrokenRecord
    where anything differs from what was sealed.
    """
    if len(data) > LARGEST:
        raise RecordError(f"{name} is too large for a record: at most {LARGEST} bytes")
    body = _parsed(data)
    if not isinstance(body, dict) or "benchgate_record" not in body:
        if looks_like_record(data):
            raise BrokenRecord(f"{name} has been changed: it can no longer be read as a record")
        raise RecordError(f"{name} is no record of benchgate")
    changed = _changed(body, data)
    version = body["benchgate_record"]
    if changed and isinstance(version, int) and version > FORMAT and not _was_ours(body):
        raise RecordError(
            f"{name} was written by a newer benchgate (format {version}; this one knows up to "
            f"{FORMAT}): update benchgate to read it"
        )
    if changed:
        raise BrokenRecord(f"{name} has been changed: {changed}")
    return Record(body, sha256(data))


def canonical(body: Mapping[str, Any]) -> bytes:
    """The one way in which a body is written: ASCII, keys in order, one value a line.

    So the seal is the hash of all lines of a record's file but its own.
    """
    text = json.dumps(body, sort_keys=True, ensure_ascii=True, indent=1, allow_nan=False)
    return text.encode("ascii") + b"\n"


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def to_the_second(moment: datetime) -> str:
    """A moment as records state it: in UTC, like 2031-05-06T07:08:09Z."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def looks_like_record(data: bytes) -> bool:
    """Whether bytes are, or once were, a record's: one changed byte does not hide that."""
    return sum(mark in data for mark in (b'"benchgate_record"', b'"seal"', b'"previous"')) >= 2


def is_note(data: bytes) -> bool:
    """Whether bytes are what a register notes about a sign-off later, as it was sealed."""
    if b'\n "kind": ' not in data:
        return False
    try:
        return read_record(data, "").kind != "sign-off"
    except RecordError:
        return False


def _parsed(data: bytes) -> Any:
    """What bytes say as JSON; None where they are none."""
    try:
        return json.loads(data.decode("utf-8"))
    except (ValueError, RecursionError):
        return None


def _changed(body: dict[str, Any], data: bytes) -> str:
    """How a record differs from one that was sealed and left alone; "" where it does not."""
    version, seal = body["benchgate_record"], body.get("seal")
    if version not in (_FIRST, FORMAT) or type(version) is not int:
        return f"it is of no known format ({clean(repr(version))[:40]})"
    try:
        as_written = canonical(body)
    except (ValueError, RecursionError):
        return "it holds what no record holds"
    if as_written != data:
        return "it is not written as benchgate writes"
    line = f'\n "seal": {json.dumps(seal)},\n'.encode()
    if line not in data or sha256(data.replace(line, b"\n", 1)) != seal:
        return "its seal does not fit what it says"
    if (version == _FIRST) != ("kind" not in body):
        return "what it says is not of its format"
    return misshapen(body) or _contradiction(body)


def _contradiction(body: dict[str, Any]) -> str:
    """Whether the scenario is another than the one that was reviewed."""
    if body.get("kind", "sign-off") != "sign-off":
        return ""
    scenario, reviewed = body["scenario"], body["review"]["scenario"]
    text = scenario["text"].encode("utf-8", "surrogatepass")
    if not sha256(text) == scenario["sha256"] == reviewed["sha256"]:
        return "the hash of its scenario does not fit the scenario"
    return ""


def _was_ours(body: dict[str, Any]) -> bool:
    """Whether a record is one of a known format whose format number alone was changed."""
    seal = body.get("seal")
    for version in (_FIRST, FORMAT):
        whole = {key: value for key, value in body.items() if key != "seal"}
        try:
            if sha256(canonical({**whole, "benchgate_record": version})) == seal:
                return True
        except (ValueError, RecursionError):
            return False
    return False


def _text_of(scenario: Scenario, review: Review) -> str:
    """The text that was reviewed, byte for byte."""
    try:
        content = Path(scenario.path).read_bytes()
    except (OSError, ValueError) as error:
        raise RecordError(f"{scenario.path} cannot be read again: {error}") from error
    if not sha256(content) == scenario.text_sha256 == review.scenario_sha256:
        raise RecordError(f"{scenario.path} is not as it was reviewed; review it again")
    return content.decode("utf-8")


def _place(question: Question) -> dict[str, str]:
    return {
        "id": question.id,
        "criterion": question.criterion,
        "at": question.at,
        "of": question.of,
        "title": question.title,
    }


def plain(value: Any) -> Any:
    """As JSON knows it; an infinite number as text, as in every output, an unknown one as null."""
    if isinstance(value, Mapping):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    return plain_number(value) if isinstance(value, float) else value
