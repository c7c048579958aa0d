"""What a signer is asked besides the findings: statements of the file, earlier runs, many runs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from review.interface.result import Review
from review.register.inspection import record_name
from review.register.questions import Question
from review.register.record import Record
from review.render import words
from review.scenario import Scenario

#: What a share of one run is counted over, and what to do before it is used up.
_USED_UP = {
    "readiness.gas_drawn": ("the gas", "the cylinder", "Change it"),
    "corrosion.absorbent_used": ("the absorbent", "the absorbent", "Renew it"),
}
MANY_RUNS = "runs."
"""How the ids of questions begin that depend on the number of runs."""
_DAY = "exposure.eight_hour_ratio"
_NOTED = "run.noted"


def also_asked(
    review: Review, scenario: Scenario, entries: Sequence[Record] = (), runs: int = 1
) -> tuple[Question, ...]:
    """All of it; `entries` are those of the register, `runs` how many are to be signed for."""
    return (
        *_statements(scenario),
        *_noted(scenario, entries),
        *_many_runs(review, scenario, runs),
    )


def same_set_up(record: Record, file: str, title: str, sha256: str) -> bool:
    """Whether a sign-off is of this scenario, perhaps as it was earlier."""
    told = record.data["scenario"]
    return told["sha256"] == sha256 or (told["file"], told["title"]) == (file, title)


def last_of(entries: Iterable[Record], scenario: Scenario) -> Record | None:
    """The newest sign-off of a scenario, None where there is none."""
    return next(reversed(_of(entries, scenario)), None)


def remarks(entry: Record) -> tuple[str, ...]:
    """What a run left to be asked about: an incident, and where its log left the plan."""
    log = entry.data["log"]
    return (
        *([entry.data["incident"]] if entry.data["incident"] else []),
        *(log["told"] if log and log["left"] else []),
    )


def _of(entries: Iterable[Record], scenario: Scenario) -> list[Record]:
    file = str(scenario.path).replace("\\", "/").rpartition("/")[2]
    return [
        record for record in entries
        if record.kind == "sign-off"
        and same_set_up(record, file, scenario.title, scenario.text_sha256)
    ]  # fmt: skip


def _question(id: str, at: str, title: str, action: str) -> Question:
    return Question(f"{id}@{at}" if at else id, id, at, "", title, action, False, ())


def _statements(scenario: Scenario) -> Iterator[Question]:
    """A statement that turns a check off is confirmed by whoever knows."""
    still = [item.id for item in scenario.train if item.reactions.stated_none]
    if still:
        where = words.listed(still)
        yield _question(
            "statement.reactions", "", "Reactions: none",
            f"The file states that nothing reacts in {words.clean(where)}. Confirm it, and say how "
            "it is known.",
        )  # fmt: skip


def _noted(scenario: Scenario, entries: Sequence[Record]) -> Iterator[Question]:
    """What was noted in runs of this set-up and no later sign-off has answered."""
    signed = _of(entries, scenario)
    hashes = {record.sha256: record for record in signed}
    answered = {each["id"] for record in signed for each in record.data["conditions"]}
    for entry in entries:
        if entry.kind != "run" or entry.of[1] not in hashes:
            continue
        name = record_name(entry.number)
        told = remarks(entry)
        if told and f"{_NOTED}@{name}" not in answered:
            said = "; ".join(text.rstrip(".") for text in told)
            yield _question(
                _NOTED, name, "Noted in an earlier run",
                f"In the run noted in {name} ({entry.signed_at:%Y-%m-%d}): {words.clean(said)}. "
                "What was done so that it does not come again?",
            )  # fmt: skip


def _many_runs(review: Review, scenario: Scenario, runs: int) -> Iterator[Question]:
    """What one run uses up, where a number of runs would use more than there is."""
    if runs <= 1:
        return
    used: dict[tuple[str, str], float] = {}
    day = 0.0
    for measure in review.measures:
        if not measure.value.size:
            continue
        plan = measure.value[:, 0]
        if measure.kind in _USED_UP:
            share = float("nan") if np.isnan(plan).all() else float(np.nanmax(plan))
            key = measure.kind, measure.at
            used[key] = max(used.get(key, 0.0), share) if share == share else math.nan
        elif measure.kind == _DAY and np.isfinite(plan).any():
            day = max(day, float(np.nanmax(plan)))
    for (kind, at), share in used.items():
        what, held, act = _USED_UP[kind]
        where = words.clean(at.removeprefix("supply of "))
        if not share * runs <= 1.0:  # also where it is not known
            enough = 0 if not share > 0 else math.floor(1.0 / share + 1e-9)
            lasts = f"lasts for {words.counted(enough, 'run')}" if share > 0 else "is not known"
            yield _question(
                f"runs.{kind.partition('.')[2]}", at, f"{words.upper_first(what)} for all runs",
                f"{words.counted(runs, 'run')} are asked for; {held} of {where} {lasts}. "
                f"{act} before the run that it does not last for, and say who sees to it.",
            )  # fmt: skip
    if day * runs > 1.0:
        most = math.floor(1.0 / day + 1e-9)
        yield _question(
            "runs.day", "", "Runs in one day",
            f"{words.counted(runs, 'run')} in one day would pass the 8-hour limit of what is "
            f"breathed: at most {words.counted(most, 'run')} a day. Say who sees to it.",
        )  # fmt: skip
    solids = [name for name, each in scenario.reagents.items() if each.state == "solid"]
    if solids:
        yield _question(
            "runs.solids", "", "Solids for all runs",
            f"Before each run, {words.clean(words.listed(solids))}: charged anew, or known to be "
            "enough for all of them? Say which.",
        )  # fmt: skip
