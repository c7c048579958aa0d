"""What two reviews of one set-up, changed in one point, may differ in.

A set-up's answer is its verdict and what each criterion gets at each place, at its gravest. A
change for the worse, or a fact that is left out, may make neither better; the same said otherwise
makes them no different.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import yaml

from review import Engine, InputError, Review, Scenario
from tests.practice.setups import Words

VERDICTS = (
    "may proceed", "may proceed with conditions", "cannot be judged", "must not proceed",
)  # fmt: skip
#: From here on in their order it must not begin.
BLOCKS = 2
#: Passing, a condition for want of a fact, blocked for want of one, refused.
PASSING, UNSURE, BLOCKED, REFUSED = range(4)
RANK = {
    "acceptable": PASSING, "tolerable": PASSING, "undetermined": BLOCKED, "unacceptable": REFUSED,
}  # fmt: skip
#: The criterion that blocks for want of a statement.
STATED = "readiness.declared"
EXCEPTIONS = yaml.safe_load(Path(__file__).with_name("exceptions.yaml").read_text("utf-8"))


@dataclass(frozen=True)
class Answer:
    """A verdict, and the gravest rank of each criterion at each place."""

    verdict: str
    found: Mapping[tuple[str, str], int]


def answer(review: Review) -> Answer:
    found: dict[tuple[str, str], int] = {}
    for finding in review.findings:
        key = finding.criterion, finding.at
        rank = RANK[finding.grade]
        if not finding.blocks:
            rank = UNSURE if rank == BLOCKED else PASSING
        found[key] = max(found.get(key, 0), rank)
    return Answer(review.verdict, found)


def loaded(engine: Engine, data: Mapping[str, Any]) -> Scenario | None:
    """None where it is refused as wrong input."""
    try:
        return engine.loads(yaml.safe_dump(data, sort_keys=False, allow_unicode=True))
    except InputError:
        return None


def answered(engine: Engine, data: Mapping[str, Any], *, upsets: bool = True) -> Answer | None:
    """None where it is refused as wrong input."""
    scenario = loaded(engine, data)
    if scenario is None:
        return None
    try:
        return answer(engine.review(scenario, upsets=upsets))
    except InputError:
        return None


def passes(before: Answer) -> bool:
    """Nothing is refused, so that nothing can be let through."""
    return VERDICTS.index(before.verdict) < BLOCKS and not _refused(before)


def still_refused(now: Answer, before: Answer) -> bool:
    """Whether all that was refused still is, though failures have not been played: they add."""
    left = {criterion for (criterion, _), rank in before.found.items() if rank == REFUSED}
    return VERDICTS.index(now.verdict) >= BLOCKS and left <= _refused(now)


def read(text: str) -> Any:
    return yaml.load(text, Words)


def milder(now: Answer, before: Answer) -> Iterator[str]:
    """What a change let through: the verdict, and each refusal that it turned into a pass.

    What cannot be judged blocks as a refusal does; what is not known any more is told by the
    verdict. Of a criterion that is refused at another place instead, nothing is let through, nor
    where the review now waits for a statement that was there: with it all that was refused is back.
    """
    if VERDICTS.index(now.verdict) < BLOCKS <= VERDICTS.index(before.verdict):
        yield f"verdict {before.verdict} -> {now.verdict}"
    if _asked(now) - _asked(before):
        return
    refused = _refused(now)
    for (criterion, at), rank in sorted(before.found.items()):
        if rank == REFUSED and criterion not in refused and not now.found.get((criterion, at), 0):
            yield f"{criterion}@{at}"


def _asked(answer: Answer) -> set[str]:
    """Where a review waits for something to be stated."""
    return {
        at for (criterion, at), rank in answer.found.items()
        if criterion == STATED and rank >= BLOCKED
    }  # fmt: skip


def speaks_of(pattern: str, name: str) -> bool:
    """Whether an exception is of this change, or of one of two fields left out together."""
    return any(fnmatchcase(each, pattern) for each in name.split(" + "))


def excepted(law: str, told: str, name: str) -> bool:
    """Whether what a change lets through has a physical reason that is listed."""
    return any(
        each["law"] == law
        and speaks_of(each["change"], name)
        and any(fnmatchcase(told, what) for what in each["lets"])
        for each in EXCEPTIONS
    )


def another(law: str, name: str) -> bool:
    """Whether a change takes a whole thing away, after which nothing is compared."""
    return any(
        each["law"] == law and each["lets"] == ["*"] and speaks_of(each["change"], name)
        for each in EXCEPTIONS
    )


def let_through(law: str, name: str, now: Answer, before: Answer) -> tuple[list[str], int]:
    """What a change let through without a listed reason, and how much has one.

    A verdict is only as good as what it rests on: it needs no reason of its own where all that is
    refused no more has one.
    """
    lets = list(milder(now, before))
    fine = [what for what in lets if excepted(law, what, name)]
    left = [what for what in lets if what not in fine]
    if [what.split()[0] for what in left] == ["verdict"]:
        gone = [f"{c}@{at}" for (c, at), rank in before.found.items() if rank >= BLOCKED]
        if all(excepted(law, what, name) for what in gone):
            return [], len(lets)
    return left, len(fine)


def different(now: Answer, before: Answer) -> Iterator[str]:
    """What another way of saying the same made different: the verdict, and each refusal."""
    if now.verdict != before.verdict:
        yield f"verdict {before.verdict} -> {now.verdict}"
    for criterion in sorted(_refused(before) ^ _refused(now)):
        yield f"{criterion}: refused in one way only"


def _refused(answer: Answer) -> set[str]:
    return {criterion for (criterion, _), rank in answer.found.items() if rank >= BLOCKED}
