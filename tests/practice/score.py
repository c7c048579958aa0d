"""How far ordinary practice is allowed and danger refused.

    python -m tests.practice.score                  all of them, with a score
    python -m tests.practice.score distilled        those whose name or class holds these words
    python -m tests.practice.score --unmet          only those that are not as they ought to be
    python -m tests.practice.score --why NAME       also what speaks against each
    python -m tests.practice.score --show NAME      the scenario as a complete file
    python -m tests.practice.score --trim           take what is met off not_yet.yaml
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import yaml

from review import Finding, InputError, Review, loads
from tests.practice.setups import HERE, SetUp, set_ups
from tests.support import shared_engine

NOT_YET = HERE / "not_yet.yaml"
WRONG_INPUT = "wrong input"
PASSES = ("may proceed", "may proceed with conditions")
VERDICTS = (*PASSES, "cannot be judged", "must not proceed")


@dataclass(frozen=True)
class Outcome:
    """What a review says of a set-up: its verdict, conditions, and what speaks against it."""

    set_up: SetUp
    verdict: str
    conditions: tuple[str, ...] = ()
    against: tuple[str, ...] = ()

    @property
    def met(self) -> bool:
        """An ordinary one is allowed with few conditions; a dangerous one refused on its merits."""
        if self.set_up.allowed:
            return self.verdict in PASSES and len(self.conditions) <= self.set_up.most
        if self.verdict == WRONG_INPUT:
            return self.set_up.wrong_input
        return self.verdict not in PASSES


def outcomes(wanted: Iterable[SetUp]) -> Iterator[Outcome]:
    for each in wanted:
        try:
            review = _reviewed(each)
        except InputError as error:
            yield Outcome(each, WRONG_INPUT, (), tuple(str(error).splitlines()))
            continue
        yield Outcome(each, review.verdict, conditions(review), _against(review))


def _reviewed(each: SetUp) -> Review:
    """With its failures, but for a dangerous one whose plan alone is refused: they only add."""
    scenario = loads(each.text, "set_up.yaml")
    if not each.allowed:
        plan = shared_engine().review(scenario, upsets=False)
        if plan.verdict == "must not proceed":
            return plan
    return shared_engine().review(scenario)


def conditions(review: Review) -> tuple[str, ...]:
    """What the letter asks for: one condition for all that one act clears."""
    return tuple(cause.id for cause in review.causes if cause.grade == "condition")


def not_yet() -> set[str]:
    """Names of those that are not yet as they ought to be."""
    return set(yaml.safe_load(NOT_YET.read_text("utf-8")) or ())


def _open(finding: Finding) -> bool:
    return finding.grade == "undetermined" and not finding.blocks


def _against(review: Review) -> tuple[str, ...]:
    told = dict.fromkeys(
        f"{f.grade} {f.criterion} at {f.at} {f.of}".rstrip() + f" ({f.trial}, {f.step})"
        for f in review.findings
        if f.grade == "unacceptable" or (f.grade == "undetermined" and not _open(f))
    )
    return tuple(told)


def _chunk(names: list[str]) -> list[Outcome]:
    return list(outcomes(each for each in set_ups() if each.name in set(names)))


def _all(wanted: list[SetUp], jobs: int) -> Iterator[Outcome]:
    if jobs < 2 or len(wanted) < 8:
        yield from outcomes(wanted)
        return
    names = [each.name for each in wanted]
    with ProcessPoolExecutor(jobs) as pool:
        for found in pool.map(_chunk, [names[i : i + 6] for i in range(0, len(names), 6)]):
            yield from found


def _say(found: Outcome, why: bool) -> None:
    each = found.set_up
    mark = "ok " if found.met else "NOT"
    kind = "ordinary " if each.allowed else "dangerous"
    count = f", {len(found.conditions)} conditions" if found.conditions else ""
    print(f"{mark} {kind} [{each.group}] {each.name}: {found.verdict}{count}")
    if why:
        if each.why:
            print(f"      ought to be {'allowed' if each.allowed else 'refused'}: {each.why}")
        for line in (*found.against[:12], *(f"condition {c}" for c in found.conditions)):
            print(f"      {line}")


def _score(found: list[Outcome]) -> None:
    usual = [f for f in found if f.set_up.allowed]
    bad = [f for f in found if not f.set_up.allowed]
    passed = [f for f in usual if f.verdict in PASSES]
    few = sum(f.met for f in usual)
    wrong = sum(f.verdict == WRONG_INPUT and not f.set_up.wrong_input for f in bad)
    let = [f.set_up.name for f in bad if f.verdict in PASSES]
    print(f"\nordinary:  {len(passed)} of {len(usual)} allowed, {few} with few enough conditions")
    print(f"           {sum(f.verdict == WRONG_INPUT for f in usual)} are wrong input")
    refused = sum(f.met for f in bad)
    print(f"dangerous: {refused} of {len(bad)} refused, {wrong} only as wrong input")
    print(f"           {len(let)} LET THROUGH")


def trimmed(kept: set[str]) -> None:
    """Write not_yet.yaml anew with these."""
    head = "".join(
        line for line in NOT_YET.read_text("utf-8").splitlines(True) if line.startswith("#")
    )
    body = "".join(f"- {yaml.safe_dump(name, width=10**6).splitlines()[0]}\n" for name in kept)
    NOT_YET.write_text(head + (body or "[]\n"), "utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("pattern", nargs="*")
    for flag in ("--unmet", "--why", "--show", "--trim"):
        parser.add_argument(flag, action="store_true")
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1))
    asked = parser.parse_args()
    words = " ".join(asked.pattern).lower()
    wanted = [each for each in set_ups() if words in f"{each.group} {each.name}".lower()]
    if asked.show:
        for each in wanted:
            print(f"# {each.name}\n{each.text}")
        return 0
    found = []
    for each in _all(wanted, asked.jobs):
        found.append(each)
        if not (asked.unmet and each.met):
            _say(each, asked.why)
    _score(found)
    if asked.trim:
        met = {each.set_up.name for each in found if each.met}
        trimmed([name for name in (yaml.safe_load(NOT_YET.read_text()) or ()) if name not in met])
    return 0


if __name__ == "__main__":
    sys.exit(main())
