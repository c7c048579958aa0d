"""One text to one row: what a worker does, in this process or in others.

A worker gets texts and stored measures, never paths of scenarios, and gives back plain data.
Whatever goes wrong in one file is that row's error. Each process builds the engine once.
"""

from __future__ import annotations

import gc
import hashlib
import json
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from review.audit.recipe import Recipe as Recipe  # whoever builds a desk needs one
from review.audit.store import Judged, Row
from review.engine.limited import seconds_allowed
from review.engine.reviewing import Engine
from review.interface.result import Finding, Outcome, Review
from review.judge.effective import criterion_hash, ruleset_to_json
from review.judge.judging import judge
from review.judge.packed import pack, unpack
from review.judge.verdict import verdict
from review.provenance import code_hash, libraries
from review.reference.finding import LookedUp, Reference
from review.scenario import InputError
from review.scenario.yaml import read_bytes

#: A YAML file with none of these sections is no scenario but something else.
SECTIONS = (
    "train", "reagents", "flows", "procedure", "heat", "ventilation", "catalysts", "frame",
)  # fmt: skip
_MOST_LINES = 50
#: Seconds between two collections of garbage, which take less than a tenth of one. Left to itself,
#: the interpreter looks at what reviews leave only when it is a lot beside all that is loaded.
_TIDY = 3.0
#: How near a section's name must come to be taken for one: "trian" does, "name" does not.
_NEAR = 0.75
_UNREADABLE_DATA = "cannot be read"


@dataclass(frozen=True, slots=True)
class Text:
    """The bytes of a scenario or of a record, to be reviewed; `path` stands in messages."""

    path: str
    source: Literal["scenario", "record"]
    content: bytes


@dataclass(frozen=True, slots=True)
class Measured:
    """A file as in `Text` with its stored measures and facts, to be judged by the rules of now."""

    path: str
    source: Literal["scenario", "record"]
    content: bytes
    measures: bytes
    facts: str


Task = Text | Measured


@dataclass(frozen=True, slots=True)
class Key:
    """What an engine's results rest on beside the file and its data.

    `rules` is the hash of the effective ruleset; `code` that of benchgate's code, the libraries
    and the built-in checks that could not be loaded; `plugins` is JSON with the name and hash of
    each, the seconds it may take, and whether it failed when it was loaded.
    """

    rules: str
    code: str
    plugins: str


class AuditError(Exception):
    """The audit cannot go on; the message says why. What is stored stays."""


class Desk:
    """An engine with its key; reviews texts and judges stored measures."""

    def __init__(self, recipe: Recipe) -> None:
        self.engine = Engine(
            plugin_files=[Path(p) for p in recipe.plugins],
            rules_files=[Path(p) for p in recipe.rules],
        )
        self._tidied = time.monotonic()
        engine = self.engine
        self.ruleset_text = json.dumps(
            ruleset_to_json(engine.ruleset), sort_keys=True, ensure_ascii=False
        )
        self.criteria: Mapping[str, str] = {
            each.id: criterion_hash(each, engine.kinds.get(each.kind))
            for each in engine.ruleset.criteria
        }
        lost = {failure.check for failure in engine.failures}
        foreign = [
            {
                "name": each.name,
                "sha256": each.sha256,
                "seconds": seconds_allowed(),
                "failed": each.name in lost,
            }
            for each in engine.plugins
        ]
        code = [code_hash(), libraries(), sorted(lost - {each.name for each in engine.plugins})]
        #: Whether measures that were stored are not enough to say what a review would.
        self.must_review = bool(engine.failures or engine.foreign_sections)
        self.key = Key(_sha256(self.ruleset_text), _sha256(_json(code)), _json(foreign))

    def do(self, task: Task) -> Row | Judged:
        """The row of a file, or what its stored measures come to; never raises for a file."""
        if time.monotonic() - self._tidied > _TIDY:
            gc.collect()
            self._tidied = time.monotonic()
        if isinstance(task, Measured):
            try:
                return self.judged(task)
            except Exception:  # damaged measures, or a fault that a review shows where it belongs
                task = Text(task.path, task.source, task.content)
        return self.reviewed(task)

    def reviewed(self, text: Text) -> Row:
        """The row of one file, whatever is wrong with it."""
        start = time.perf_counter()
        fields: dict[str, Any] = {
            "path": text.path,
            "source": text.source,
            "file_sha256": hashlib.sha256(text.content).hexdigest(),
        }
        with self.engine.reference.noting() as names:
            try:
                self._fill(fields, text)
            except Exception as error:
                fields |= {"state": "error", "error": in_words(error)}
        data = [looked_up(self.engine.reference, kind, name) for kind, name in sorted(names)]
        return Row(
            **fields,
            rules=self.key.rules,
            code=self.key.code,
            plugins=self.key.plugins,
            data=data_to_json(data),
            reviewed_at=now(),
            seconds=time.perf_counter() - start,
        )

    def _fill(self, fields: dict[str, Any], text: Text) -> None:
        """The fields of a row as they become known, so that an error costs only those after it."""
        content = text.content
        if text.source == "record":
            content, signed = _of_record(text)
            fields |= signed
        else:
            given = read_bytes(content, text.path).data
            sections = given.keys()
            if not (sections & set(SECTIONS) or _nearly(sections)):
                fields |= {"source": "other", "state": "skipped", "error": _no_scenario(sections)}
                return
            if isinstance(given.get("title"), str):  # known even where the rest is wrong
                fields["title"] = plain(given["title"])
        fields["scenario_sha256"] = hashlib.sha256(content).hexdigest()
        scenario = self.engine.loads(content.decode("utf-8-sig"), text.path)
        fields["title"] = plain(scenario.title)
        review = self.engine.review(scenario)
        fields |= {
            "state": "reviewed",
            "verdict": review.verdict,
            "facts": _json(dict(review.facts)),
            "measures": _packed(review),
            "findings": _findings(review.findings),
            "upsets": _upsets(review.outcomes),
        }

    def judged(self, stored: Measured) -> Judged:
        """What the rules of now say of stored measures. Raises ValueError if they are damaged."""
        measures, trials = unpack(stored.measures)
        engine, facts = self.engine, json.loads(stored.facts)
        found = judge(measures, facts, engine.ruleset, engine.kinds, trials, {})
        return Judged(
            path=stored.path,
            rules=self.key.rules,
            verdict=verdict(found.findings),
            reviewed_at=now(),
            findings=_findings(found.findings),
            upsets=_upsets(found.outcomes),
        )

    def unreadable(
        self, path: str, source: Literal["scenario", "record", "other"], why: str
    ) -> Row:
        """The row of a file whose bytes could not be had, or which nobody lived to review."""
        return Row(
            path=path,
            source=source,
            state="error",
            error=why,
            rules=self.key.rules,
            code=self.key.code,
            plugins=self.key.plugins,
            reviewed_at=now(),
            seconds=0.0,
        )


def work(recipe: Recipe, task: Task) -> Row | Judged:
    """What a worker process is asked to do. Raises `AuditError` where it cannot build its engine.

    Its desk stays as it was first made: a process works for one audit.
    """
    try:
        desk = made(recipe)
    except Exception as error:  # in words, since not every error survives the way between processes
        raise AuditError(f"rules or plugins changed while the audit ran: {error}") from None
    return desk.do(task)


@lru_cache(maxsize=1)
def made(recipe: Recipe) -> Desk:
    """The desk of this worker. Raises what `Engine` does."""
    return Desk(recipe)


def looked_up(reference: Reference, kind: str, name: str) -> LookedUp:
    """As `Reference.looked_up`; where the data themselves are wrong, an entry that says so."""
    try:
        return reference.looked_up(kind, name)
    except Exception:
        return LookedUp(kind, name, "", _UNREADABLE_DATA)


def data_to_json(data: Sequence[LookedUp]) -> str:
    """What was looked up, as the text a row keeps."""
    return _json(
        [{"kind": d.kind, "name": d.name, "file": d.file, "sha256": d.sha256} for d in data]
    )


def in_words(error: BaseException) -> str:
    """An error as the text of a row: a wrong file's own words, or what broke and how."""
    text = str(error)
    if not isinstance(error, InputError) and not _is_record_error(error):
        text = f"{type(error).__name__}: {text}"
    lines = text.splitlines()
    if len(lines) > _MOST_LINES:
        rest = len(lines) - _MOST_LINES
        lines = [*lines[:_MOST_LINES], f"and {rest} more problems"]
    return plain("\n".join(lines))


def plain(text: str) -> str:
    """Text that any database and file can hold."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def now() -> str:
    """The time, in UTC to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _of_record(text: Text) -> tuple[bytes, dict[str, Any]]:
    """The scenario's text in a record, and what was signed."""
    from review.register.record import read_record

    data = read_record(text.content, text.path).data
    signed = {
        "signed_verdict": plain(str(data["review"]["verdict"])),
        "signed_at": plain(str(data["signed_at"])),
        "valid_until": plain(str(data["valid_until"])),
    }
    return data["scenario"]["text"].encode("utf-8", "surrogatepass"), signed


def _is_record_error(error: BaseException) -> bool:
    return any(kind.__name__ == "RecordError" for kind in type(error).__mro__)


def _nearly(sections: Iterable[str]) -> bool:
    """Whether a section of a scenario seems to be meant, such as "trian" or "Train"."""
    return any(get_close_matches(each.lower(), SECTIONS, 1, _NEAR) for each in sections)


def _no_scenario(sections: Any) -> str:
    first = ", ".join(sorted(sections)[:3])
    return plain(f"no scenario: none of its sections ({first}) is one of a scenario")


def _packed(review: Review) -> bytes | None:
    """Measures to judge again; None where a check failed, since what it would say is not known."""
    if review.failures:
        return None
    return pack(review.measures, review.trials, review.kinds)


def _findings(findings: Sequence[Finding]) -> tuple[tuple[Any, ...], ...]:
    return tuple(
        (
            f.criterion, f.title, f.kind, f.at, f.of, f.grade, f.status, f.case, f.trial, f.step,
            _number(f.value), f.unit, _number(f.limit), f.action, f.reason, int(f.blocks),
            _number(f.bound), _number(f.known),
        )
        for f in findings
    )  # fmt: skip


def _upsets(outcomes: Sequence[Outcome]) -> tuple[tuple[Any, ...], ...]:
    return tuple(
        (
            o.run, o.title, o.grade, o.criterion, o.at, o.of, o.step, _number(o.value), o.unit,
            _number(o.seconds), o.credit,
        )
        for o in outcomes
    )  # fmt: skip


def _number(value: float | None) -> float | None:
    return None if value is None or value != value else float(value)


def _json(data: Any) -> str:
    return json.dumps(data, sort_keys=True, ensure_ascii=True, allow_nan=False)


def _sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
