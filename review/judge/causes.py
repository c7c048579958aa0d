"""Causes: findings grouped by what the user can act on.

Every finding that is not acceptable belongs to exactly one cause. What is undetermined for want of
a fact hangs on that fact: the fact that most findings lack comes first, then the one that most of
the rest lack. All else hangs on the cause that the criterion's letter names, the substances apart
where it says so; what is tolerable or not known joins a refusal of the same cause, which stands
before it. Pure, and the ids do not depend on the order of the findings.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from review.interface.measure import OUTSIDE, STATUS_NAMES
from review.interface.plugin import Kind, worst_first
from review.interface.result import CASES, GRADES, Cause, Finding, Letter, Run

#: A finding of the engine itself: a check that did not do its work.
_PLAIN = Letter()

Key = tuple[str, str]
#: The criterion whose condition is to watch the supply.
WATCH = "pressure.plugged"


def causes(
    findings: Sequence[Finding],
    letters: Mapping[str, Letter],
    kinds: Mapping[str, Kind],
    runs: Sequence[Run] = (),
) -> tuple[Cause, ...]:
    """The causes of a review, most serious first; conditions in the order of their findings.

    What somebody who watches prevents in one of the `runs` is a condition to watch, whatever it is.
    """
    watched = {run.counters: run.in_time_for for run in runs if run.in_time_for}
    bad = {_key(f, letters) for f in findings if f.grade == "unacceptable"}
    open_ = [
        n for n, f in enumerate(findings)
        if f.grade == "undetermined" and f.blocks and _key(f, letters) not in bad
    ]  # fmt: skip
    gathered: dict[Key, list[int]] = {}
    for n in open_:
        if letters.get(findings[n].criterion, _PLAIN).gathers:
            gathered.setdefault(_key(findings[n], letters), []).append(n)
    found = [
        _cause(
            key[0], several, findings, letters, kinds,
            "; ".join(dict.fromkeys(fact for n in several for fact in findings[n].lacking)),
        )
        for key, several in gathered.items()
    ]  # fmt: skip
    single = [n for n in open_ if not any(n in several for several in gathered.values())]
    found += _lacking(findings, single, letters, kinds)
    covered = {n for cause in found for n in cause.findings}
    refused: dict[Key, list[int]] = {}
    others: dict[Key, list[int]] = {}
    for n, finding in enumerate(findings):
        if finding.grade == "unacceptable":
            refused.setdefault(_key(finding, letters), []).append(n)
    for n, finding in enumerate(findings):
        if finding.grade in ("acceptable", "unacceptable") or n in covered:
            continue
        key = _key(finding, letters)
        prevented = watched.get(finding.trial, ())
        if finding.grade == "tolerable" and prevented and finding.criterion.startswith(prevented):
            key = (letters.get(WATCH, _PLAIN).cause or WATCH, "")
        if key in refused:
            refused[key].append(n)
        else:
            blocked = finding.grade == "undetermined" and finding.blocks
            label = "not judged: " if blocked else ""
            others.setdefault((label + key[0], key[1]), []).append(n)
    _join_mixtures(refused, findings, kinds)
    _join_mixtures(others, findings, kinds)
    for cause in [cause for cause, subject in others if not subject]:
        among = [key for key in refused if key[0] == cause and key[1]]
        if among:  # what all add up to is less once the refused one is
            refused[min(among)] += others.pop((cause, ""))
    for key, several in (*refused.items(), *others.items()):
        found.append(_cause(": ".join(k for k in key if k), several, findings, letters, kinds))
    found = [_countered(cause, findings[cause.leading], runs) for cause in found]
    return tuple(sorted(found, key=lambda cause: _order(cause, findings, kinds)))


def _countered(cause: Cause, first: Finding, runs: Sequence[Run]) -> Cause:
    """A condition that rests on a safeguard says so."""
    if cause.grade != "condition" or first.grade != "tolerable":
        return cause
    counted = [
        run.title for run in runs
        if run.counters == first.trial and run.title == first.reason and not run.in_time_for
    ]  # fmt: skip
    if not counted:
        return cause
    act = f"{cause.letter.act} Counted on: {counted[0]}.".strip()
    return replace(cause, letter=replace(cause.letter, act=act))


def _join_mixtures(
    refused: dict[Key, list[int]], findings: Sequence[Finding], kinds: Mapping[str, Kind]
) -> None:
    """What a criterion says of all substances together hangs on the worst of them, if one is."""
    for cause in [cause for cause, subject in refused if not subject]:
        single = [key for key in refused if key[0] == cause and key[1]]
        if single:
            worst = max(
                single, key=lambda k: (max(past(findings[n], kinds) for n in refused[k]), k)
            )
            refused[worst] += refused.pop((cause, ""))


def _lacking(
    findings: Sequence[Finding],
    positions: Sequence[int],
    letters: Mapping[str, Letter],
    kinds: Mapping[str, Kind],
) -> Iterable[Cause]:
    """Missing facts, each with the findings that it blocks and no earlier one does.

    What several things lack for the same reason is one fact: it is stated for all of them at once.
    """
    left = [n for n in positions if findings[n].lacking]
    alike: dict[Key, list[tuple[str, list[int]]]] = {}
    while left:
        counts = Counter(fact for n in left for fact in set(findings[n].lacking))
        fact = min(counts, key=lambda each: (-counts[each], each))
        hit = [n for n in left if fact in findings[n].lacking]
        left = [n for n in left if n not in hit]
        what, of, thing = fact.partition(" (")[0].partition(" of ")
        key = (what, fact.partition(" (")[2]) if of else (fact, "")
        alike.setdefault(key, []).append((thing, hit))
    for (what, why), each in alike.items():
        things = " and ".join(", ".join(thing for thing, _ in each).rsplit(", ", 1))
        fact = f"{what} of {things}" if things else what
        fact += f" ({why}" if why else ""
        hit = [n for _, several in each for n in several]
        yield _cause(f"not known: {fact}", hit, findings, letters, kinds, fact)


def _key(finding: Finding, letters: Mapping[str, Letter]) -> Key:
    letter = letters.get(finding.criterion, _PLAIN)
    if not finding.kind and finding.layer == "engine":
        return finding.criterion, finding.title
    outside = finding.status == STATUS_NAMES[OUTSIDE]
    if finding.grade == "undetermined" and finding.blocks and outside:
        return STATUS_NAMES[OUTSIDE], ""  # told once: mostly one failure takes them all there
    return letter.cause or finding.criterion, finding.of if letter.by_subject else ""


def _cause(
    id: str,
    positions: Sequence[int],
    findings: Sequence[Finding],
    letters: Mapping[str, Letter],
    kinds: Mapping[str, Kind],
    lacks: str = "",
) -> Cause:
    first = findings[min(positions, key=lambda n: _rank(findings[n], letters, kinds))]
    alike = [
        n for n in positions
        if (findings[n].criterion, findings[n].grade) == (first.criterion, first.grade)
        and (CASES.index(findings[n].case) > 1) == (CASES.index(first.case) > 1)
    ]  # fmt: skip
    leading = max(alike, key=lambda n: (_hazard(findings[n], kinds), -n))
    first = findings[leading]
    if first.grade == "unacceptable":
        grade = "unacceptable"
    else:
        grade = "undetermined" if first.grade == "undetermined" and first.blocks else "condition"
    letter = letters.get(first.criterion, _PLAIN)
    watch = letters.get(WATCH, _PLAIN)
    if grade == "condition" and id == (watch.cause or WATCH) != (letter.cause or first.criterion):
        letter = watch  # prevented by whoever watches, whatever it is
    things = dict.fromkeys(
        letters.get(findings[n].criterion, _PLAIN).at_hand for n in sorted(positions)
    )
    if letter.at_hand:
        letter = replace(letter, at_hand=", ".join(thing for thing in things if thing))
    also: dict[str, tuple[int, str]] = {}
    for n in positions:
        other = letters.get(findings[n].criterion, _PLAIN)
        if other.tells and findings[n].grade == first.grade != "tolerable":
            also.setdefault(findings[n].criterion, (n, other.says))
    also.pop(first.criterion, None)
    return Cause(
        id=id,
        grade=grade,  # type: ignore[arg-type]
        leading=leading,
        findings=tuple(sorted(positions)),
        letter=letter,
        lacks=lacks,
        also=tuple(also.values()),
    )


def _rank(
    finding: Finding, letters: Mapping[str, Letter], kinds: Mapping[str, Kind]
) -> tuple[object, ...]:
    """The finding to tell: the gravest; as planned before after a failure; then the farthest."""
    letter = letters.get(finding.criterion, _PLAIN)
    return (
        GRADES.index(finding.grade),
        CASES.index(finding.case) > 1,
        not letter.leads,
        not letter.urgent,
        -past(finding, kinds),
        finding.criterion, finding.at, finding.of, CASES.index(finding.case),
    )  # fmt: skip


def _order(
    cause: Cause, findings: Sequence[Finding], kinds: Mapping[str, Kind]
) -> tuple[object, ...]:
    first = findings[cause.leading]
    return (
        ("unacceptable", "undetermined", "condition").index(cause.grade),
        not cause.letter.urgent,
        CASES.index(first.case) > 1,
        -len(cause.findings) if cause.lacks else 0,
        -past(first, kinds),
        cause.id,
    )


def _hazard(finding: Finding, kinds: Mapping[str, Kind]) -> float:
    kind = kinds.get(finding.kind)
    if kind is None or math.isnan(finding.value):
        return math.inf
    return float(worst_first(kind, finding.value))


def past(finding: Finding, kinds: Mapping[str, Kind]) -> float:
    """How far a value lies past its limit, as a share of the larger; unknown is farthest."""
    kind = kinds.get(finding.kind)
    if kind is None or finding.limit is None or math.isnan(finding.value):
        return math.inf
    value, limit = (float(worst_first(kind, each)) for each in (finding.value, finding.limit))
    if math.isinf(value) or math.isinf(limit):
        return 0.0 if value == limit else math.copysign(math.inf, value - limit)
    return (value - limit) / (max(abs(value), abs(limit)) or 1.0)
