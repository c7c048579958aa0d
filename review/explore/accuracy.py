"""What the accuracies of instruments and sizes do to a run that may proceed as planned.

Every setting and size is taken anywhere within its accuracy, all of them at once, at 256 points of
a Latin hypercube that is kept in a file and not drawn again. Plan and steps are judged at each; a
criterion counts at the hazardous 95 % order statistic (`review.judge.grading`). Failures are not
played again: what they do to the plan is larger than what an instrument is off by.

Where the file states no accuracy one of `DEFAULTS` counts: as wide as such a device is commonly
stated to be (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np

from review.explore.points import ALLOWED
from review.interface.measure import FloatArray, Measure
from review.interface.plugin import Overlay, Section, worst_first
from review.interface.result import GRADES, Finding, Review
from review.judge.causes import causes
from review.judge.verdict import verdict
from review.reference.finding import built_in_folder
from review.scenario import Scenario, numbers

FILE = "latin_hypercube.txt"
#: Shares of a reading or a size; kelvin for temperatures, beside a share of the degrees Celsius.
FLOWS = {"mass flow controller": 0.05, "float meter": 0.10}
BY_EYE = 0.20
LIQUID_FEED = 0.05
SIZES = {"inner_diameter": 0.05, "wall": 0.10, "length": 0.05, "gas_volume": 0.10,
         "liquid_volume": 0.10, "dip_depth": 0.10, "lift": 0.05}  # fmt: skip
KELVIN, OF_CELSIUS, BATH = 5.0, 0.01, 3.0
AIR_CHANGES, FACE_VELOCITY = 0.20, 0.20


@dataclass(frozen=True, slots=True)
class Spread:
    """How far one number may be off: half the width, in SI, and where that comes from."""

    path: str
    value: float
    half: float
    says: str


def spreads(scenario: Scenario) -> tuple[Spread, ...]:
    """Every number of the scenario that is set or measured, with its accuracy; widest first."""
    known = numbers(scenario)
    found = [*_flows(scenario), *_heat(scenario), *_rest(scenario)]
    kept = [
        Spread(path, known[path], half, says)
        for path, half, says in found
        if path in known and half > 0
    ]
    return tuple(sorted(kept, key=lambda s: -s.half / abs(s.value) if s.value else 0.0))


def _flows(scenario: Scenario) -> Iterator[tuple[str, float, str]]:
    known = numbers(scenario)
    for name, flow in scenario.flows.items():
        kind = flow.instrument.kind if flow.instrument is not None else "none"
        liquid = scenario.reagents[flow.reagent].state != "gas"
        share, says = flow.accuracy, "as stated"
        if share is None:
            share = LIQUID_FEED if liquid else FLOWS.get(kind, BY_EYE)
            device = "feed pump" if liquid else kind if kind in FLOWS else "needle valve by eye"
            says = f"{device}, accuracy not stated"
        steps = (f"procedure.{step.step}.flows.{name}" for step in scenario.procedure)
        for path in (f"flows.{name}.rate", *steps):
            if path in known:
                text = f'flow "{name}": {100 * share:.3g} % ({says})'
                yield path, share * known[path], text


def _heat(scenario: Scenario) -> Iterator[tuple[str, float, str]]:
    known = numbers(scenario)
    for name, heat in scenario.heat.items():
        for path in (f"heat.{name}.set_temperature",
                     *(f"procedure.{s.step}.heat.{name}" for s in scenario.procedure)):  # fmt: skip
            if path in known:
                least = BATH if heat.energy == "bath" else KELVIN
                half = max(least, OF_CELSIUS * (known[path] - 273.15))
                device = "bath thermometer" if heat.energy == "bath" else "thermocouple"
                yield path, half, f'heater "{name}": {half:.2g} K ({device}, accuracy not stated)'


def _rest(scenario: Scenario) -> Iterator[tuple[str, float, str]]:
    known = numbers(scenario)
    for item in scenario.train:
        for size, share in SIZES.items():
            path = f"train.{item.id}.{size}"
            if path in known:
                words = size.replace("inner_diameter", "bore").replace("_", " ")
                yield path, share * known[path], f'{words} of "{item.id}": {100 * share:.2g} %'
    for path, share, says in (
        ("ventilation.air_changes", AIR_CHANGES, "air changes of the room"),
        ("ventilation.hood.face_velocity", FACE_VELOCITY, "face velocity of the hood"),
    ):
        if path in known:
            yield path, share * known[path], f"{says}: {100 * share:.2g} %"


@cache
def hypercube() -> FloatArray:
    """The points, shape (256, 48), each coordinate the middle of its stratum between -1 and 1."""
    lines = (built_in_folder() / FILE).read_text("ascii").splitlines()
    strata = [list(bytes.fromhex(line)) for line in lines if not line.startswith("#")]
    return (2.0 * (np.array(strata).T + 0.5) / 256.0) - 1.0


def samples(found: Sequence[Spread]) -> list[Overlay]:
    """One run for each point; what goes beyond the dimensions kept are the narrowest."""
    points = hypercube()
    used = found[: points.shape[1]]
    return [
        Overlay(
            id=f"sample:{n + 1}",
            title=f"within the accuracies, point {n + 1}",
            case="sample",
            changes={
                s.path: s.value + s.half * float(u) for s, u in zip(used, point, strict=False)
            },
        )
        for n, point in enumerate(points)
    ]


def weighed(engine: Any, scenario: Scenario, review: Review) -> Review:
    """A review that allows the run, and whether that holds within the accuracies.

    Of one that does not allow it nothing more is said. What is graver than as planned joins the
    findings; the verdict is that of all of them.
    """
    found = spreads(scenario)
    if review.verdict not in ALLOWED or not found:
        return review
    sampled, measures, _ = engine.sampled(scenario, samples(found))
    more = tuple(_graver(sampled, review))
    findings = (*review.findings, *more)
    against = [f for f in more if verdict([f]) not in ALLOWED]
    lines: tuple[str, ...] = (_holds(found),)
    if against:
        lines = tuple(dict.fromkeys(_fails(f, review, measures, found) for f in against))[:3]
    return replace(
        review,
        findings=findings,
        verdict=verdict(findings),
        causes=causes(findings, engine.ruleset.letters, review.kinds, review.trials.runs),
        sections=(*review.sections, Section("Accuracy", lines, letter=True)),
    )


def _graver(sampled: Sequence[Finding], review: Review) -> Iterator[Finding]:
    """Findings that are graver than the review's own of plan and steps."""
    known: dict[tuple[str, str, str], int] = {}
    for f in review.findings:
        if f.case in ("plan", "step"):
            key = f.criterion, f.at, f.of
            known[key] = min(known.get(key, len(GRADES)), GRADES.index(f.grade))
    for f in sampled:
        if GRADES.index(f.grade) < known.get((f.criterion, f.at, f.of), len(GRADES)):
            yield f


def _holds(found: Sequence[Spread]) -> str:
    stated = sum("as stated" in s.says for s in found)
    return (
        "plan and steps hold within the accuracies of flows, temperatures and sizes "
        f"({stated} stated, {len(found) - stated} by default)"
    )


def _fails(
    finding: Finding, review: Review, measures: Sequence[Measure], found: Sequence[Spread]
) -> str:
    """Which accuracy the run fails on: that with which the value goes most closely."""
    where = f" at {finding.at}" if finding.at else ""
    title = f"{finding.title}{where} fails within the accuracies"
    measure = next(
        (m for m in measures if (m.kind, m.at, m.of) == (finding.kind, finding.at, finding.of)),
        None,
    )
    if measure is None:
        return title
    hazard = np.asarray(worst_first(review.kinds[finding.kind], measure.value))
    value = np.nan_to_num(hazard, nan=np.inf).max(axis=0)
    if np.all(value == value[0]):
        return title
    ranks = value.argsort(kind="stable").argsort().astype(np.float64)
    weight = np.abs((ranks - ranks.mean()) @ hypercube()[:, : len(found)])
    return f"{title}, most of all on {found[int(weight.argmax())].says}"
