"""What a run draws on: gas in cylinders, absorbents; and how long they last."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from review.interface.result import Review
from review.render import words
from review.scenario import Scenario
from review.scenario.units import Stated, show

#: Kinds of measure: the share of a cylinder that the steps draw; of an absorbent that is used.
_DRAWN, _USED = "readiness.gas_drawn", "corrosion.absorbent_used"


def stocks(review: Review, scenario: Scenario) -> Iterator[tuple[str, str, str]]:
    """What it is, what should be read before the start, what follows."""
    yield from _gas(review, scenario)
    yield from _absorbents(review, scenario)


def _gas(review: Review, scenario: Scenario) -> Iterator[tuple[str, str, str]]:
    """The gauge reading of a cylinder below which nobody starts.

    ``p_r + (p - p_r) (s + r)``: `s` is the share of the content that the steps draw, `r` that of
    the first step in which it flows, for one purge that has to be repeated.
    """
    for measure in review.measures:
        name = measure.at.removeprefix("supply of ")
        if measure.kind != _DRAWN or name not in scenario.reagents or not measure.value.size:
            continue
        held = scenario.reagents[name].held
        if held is None or held.pressure is None:
            continue
        what = f"gas in the cylinder of {name}"
        share = float(np.max(measure.value[:, 0]))  # NaN stays NaN
        if not np.isfinite(share):
            yield what, "not known whether it is enough", "find out before the start"
            continue
        low = scenario.ambient.pressure if held.regulator is None else held.regulator
        whole = min(share * (1 + _repeated(name, scenario)), 1.0)
        least = low + (held.pressure - low) * whole
        over = least - scenario.ambient.pressure
        gauge = show(np.ceil(over / 1e5) * 1e5, "bar") + " gauge"
        drawn = f"{words.number(100 * share, 2)} %"
        if held.volume is not None:
            gas = share * (held.pressure - low) * held.volume / scenario.ambient.pressure
            drawn = f"{show(gas, 'L')}, {drawn} of what it holds"
        yield (
            what,
            f"gauge at least {gauge}, else nobody starts; the run draws {drawn}",
            "no less; if it holds liquid, weigh it",
        )


def _repeated(name: str, scenario: Scenario) -> float:
    """What the first step draws in which a supply flows, as a share of what all steps draw."""
    flows = {n: flow for n, flow in scenario.flows.items() if flow.reagent == name}
    now: dict[str, float] = {}
    drawn = []
    for step in scenario.procedure:
        for flow, said in step.flows.items():
            if flow in flows:
                stated = said if isinstance(said, Stated) else flows[flow].rate
                now[flow] = 0.0 if said == "off" else stated.value
        drawn.append(sum(now.values()) * step.duration)
    total = sum(drawn)
    return next((each / total for each in drawn if each), 0.0) if total else 0.0


def _absorbents(review: Review, scenario: Scenario) -> Iterator[tuple[str, str, str]]:
    """Minutes until an absorbent is spent, at the fastest that any step uses it."""
    durations = [step.duration for step in scenario.procedure]
    for measure in review.measures:
        if measure.kind != _USED or measure.value.shape[0] < len(durations) + 1 or not durations:
            continue
        used = np.maximum.accumulate(measure.value[1 : len(durations) + 1, 0])
        what = f"absorbent in {measure.at}" + (f" for {measure.of}" if measure.of else "")
        if not np.isfinite(used).all():
            yield what, "how long it lasts is not known", "no credit: see the conditions"
            continue
        rates = np.diff(used, prepend=0.0) / durations
        if rates.max() <= 0:
            continue
        lasts = int(1.0 / rates.max() // 60)
        yield (
            what,
            f"fresh; {words.number(100 * used[-1], 2)} % is used by this run",
            f"spent after {lasts} min of the step that uses most",
        )
