"""Why a set-up is judged differently than before: what a row says that its result rests on.

A row keeps hashes of all that its result depends on, so what is the same cannot be the cause. Where
more than one thing changed, all of them can be; whether a rule alone explains a grade is found out
by judging the measures of then by the rules of now.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from review.interface.plugin import Kind
from review.judge.judging import judge
from review.judge.packed import unpack
from review.judge.ruleset import Ruleset

SCENARIO = "the scenario changed"
CODE = "the code of benchgate or a library changed"
UNKNOWN_FILE = "the file could not be read at one of the times"
AS_CONDITION = "undetermined, as a condition"

#: What a row keeps of each plugin, and what a difference in it means.
_OF_A_PLUGIN = (
    ("sha256", "changed"),
    ("seconds", "is given another time"),
    ("failed", "failed to load at one of the times"),
)

#: (criterion, at, of, case): what identifies a finding in two reviews.
Key = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True)
class Grade:
    """The gravest grade under one key; `rank` puts grades in the order in which they weigh.

    What could not be judged and does not block has a grade of its own, `AS_CONDITION`.
    """

    grade: str
    title: str
    rank: int


@dataclass(frozen=True, slots=True)
class Side:
    """A set-up as one store has it. Nothing is kept of its findings."""

    path: str
    source: str
    state: str
    title: str | None
    error: str | None
    verdict: str | None
    file_sha256: str | None
    scenario_sha256: str | None
    rules: str
    code: str
    plugins: str
    data: str
    reviewed_at: str

    COLUMNS = (
        "path, source, state, title, error, verdict, file_sha256, scenario_sha256, rules, code,"
        " plugins, data, reviewed_at"
    )


@dataclass(frozen=True, slots=True)
class _Rules:
    """What differs between two rulesets: criteria, each with what became of it, and limits."""

    criteria: Mapping[str, str] = field(default_factory=dict)
    limits: tuple[str, ...] = ()


_SAME = _Rules()


class Causes:
    """What can be the cause of a difference between two stores.

    `ruleset` and `kinds` are those of now, and `rules` is the ruleset's hash.
    """

    def __init__(
        self,
        old: sqlite3.Connection,
        new: sqlite3.Connection,
        ruleset: Ruleset,
        kinds: Mapping[str, Kind],
        rules: str,
    ) -> None:
        self._old, self._new = old, new
        self._ruleset, self._kinds, self._rules_now = ruleset, kinds, rules
        self._known: dict[tuple[str, str], _Rules] = {}

    def of_setup(self, then: Side, now: Side) -> tuple[str, ...]:
        """All that changed for a set-up but its rules."""
        causes = [*_scenario(then, now), *_data(then.data, now.data)]
        causes += _plugins(then.plugins, now.plugins)
        return (*causes, CODE) if then.code != now.code else tuple(causes)

    def of_findings(
        self, then: Side, now: Side, moved: Mapping[Key, tuple[str, str]]
    ) -> dict[Key, tuple[str, ...]]:
        """The causes of each finding that moved from one grade to another, "" for none.

        A rule that explains the grade by itself is the only cause given. One that does not may
        still have a part in it, so it stays.
        """
        rules = self._rules(then, now)
        others = (*self.of_setup(then, now), *map(_limit, rules.limits))
        needed = others and any(key[0] in rules.criteria for key in moved)
        judged = self._judged_now(then, now) if needed else None
        causes: dict[Key, tuple[str, ...]] = {}
        for key, (_, grade_now) in moved.items():
            what = rules.criteria.get(key[0])
            if what is None:
                causes[key] = others
                continue
            rule = f"rule {key[0]} {what}"
            alone = judged is not None and judged.get(key, "") == grade_now
            causes[key] = (rule,) if alone else (rule, *others)
        return causes

    def _judged_now(self, then: Side, now: Side) -> dict[Key, str] | None:
        """Grades of the measures of then by the rules of now; None where they cannot be had."""
        if now.rules != self._rules_now:
            return None
        measures, facts = self._old.execute(
            "SELECT measures, facts FROM setup WHERE path = ?", (then.path,)
        ).fetchone()
        if measures is None or facts is None:
            return None
        try:
            kept, trials = unpack(measures)
            found = judge(kept, json.loads(facts), self._ruleset, self._kinds, trials, {})
        except Exception:  # damaged, or from code that kept other things: then nothing is narrowed
            return None
        listed = gravest(
            (f.criterion, f.at, f.of, f.case, f.grade, f.title, f.blocks) for f in found.findings
        )
        return {key: grade.grade for key, grade in listed.items()}

    def _rules(self, then: Side, now: Side) -> _Rules:
        if then.rules == now.rules:
            return _SAME
        pair = then.rules, now.rules
        if pair not in self._known:
            before, after = (
                dict(store.execute("SELECT id, sha256 FROM criterion WHERE ruleset = ?", (rules,)))
                for store, rules in ((self._old, then.rules), (self._new, now.rules))
            )
            criteria = {id: "changed" for id in before if after.get(id, before[id]) != before[id]}
            criteria |= {id: "is gone" for id in before.keys() - after.keys()}
            criteria |= {id: "is new" for id in after.keys() - before.keys()}
            self._known[pair] = _Rules(criteria, self._changed_limits(then, now))
        return self._known[pair]

    def _changed_limits(self, then: Side, now: Side) -> tuple[str, ...]:
        before, after = _limits(self._old, then.rules), _limits(self._new, now.rules)
        names = sorted(before.keys() | after.keys())
        return tuple(name for name in names if before.get(name) != after.get(name))


def gravest(rows: Any) -> dict[Key, Grade]:
    """The gravest grade under each key of (criterion, at, of, case, grade, title, blocks)."""
    found: dict[Key, Grade] = {}
    for criterion, at, of, case, grade, title, blocks in rows:
        told = AS_CONDITION if grade == "undetermined" and not blocks else grade
        key, each = (criterion, at, of, case), Grade(told, title, rank(grade, bool(blocks)))
        if key not in found or found[key].rank < each.rank:
            found[key] = each
    return found


def rank(grade: str, blocks: bool) -> int:
    """How much a grade weighs; what cannot be judged and does not block is a condition.

    >>> [rank(grade, True) for grade in ("acceptable", "tolerable", "undetermined")]
    [0, 1, 2]
    """
    if grade == "undetermined" and not blocks:
        return 1
    return ("acceptable", "tolerable", "undetermined", "unacceptable").index(grade)


def _scenario(then: Side, now: Side) -> list[str]:
    """Whether the scenario's text changed: of a record, the text in it."""
    for before, after in (
        (then.scenario_sha256, now.scenario_sha256), (then.file_sha256, now.file_sha256),
    ):  # fmt: skip
        if before is not None and after is not None:
            return [SCENARIO] if before != after else []
    return [UNKNOWN_FILE]


def _data(then: str, now: str) -> list[str]:
    """Data that a name led to and that is other data now. A name asked once only tells nothing."""
    before, after = (
        {(e["kind"], e["name"]): (e["file"], e["sha256"]) for e in json.loads(text)}
        for text in (then, now)
    )
    causes = {
        f"data {after[asked][0] or before[asked][0] or ' '.join(asked)} changed"
        for asked in before.keys() & after.keys()
        if before[asked] != after[asked]
    }
    return sorted(causes)


def _plugins(then: str, now: str) -> list[str]:
    before, after = ({e["name"]: e for e in json.loads(text)} for text in (then, now))
    causes = []
    for name in sorted(before.keys() | after.keys()):
        if name not in before or name not in after:
            causes.append(f"plugin {name} {'is gone' if name in before else 'is new'}")
            continue
        for key, what in _OF_A_PLUGIN:
            if before[name].get(key) != after[name].get(key):
                causes.append(f"plugin {name} {what}")
    return causes


def _limit(name: str) -> str:
    return f"limit {name} changed"


def _limits(store: sqlite3.Connection, rules: str) -> dict[str, Any]:
    row = store.execute("SELECT text FROM ruleset WHERE sha256 = ?", (rules,)).fetchone()
    limits: Mapping[str, Any] = json.loads(row[0]).get("limits", {}) if row else {}
    return {name: limit["value"] for name, limit in limits.items()}


def because(causes: Sequence[str]) -> str:
    """Causes as the end of a sentence.

    >>> because(["rule a.b changed"])
    'because rule a.b changed'
    >>> because(["rule a.b changed", "the scenario changed"])
    'because of one or more of: rule a.b changed; the scenario changed'
    """
    if not causes:
        return "and nothing that is kept says why"
    if len(causes) == 1:
        return f"because {causes[0]}"
    return f"because of one or more of: {'; '.join(causes)}"
