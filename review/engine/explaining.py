"""The working behind one measure: its worst trial, walked again with recording on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from review.engine.measuring import Measuring
from review.interface.measure import Measure, Quantity
from review.interface.plugin import Kind, Overlay
from review.interface.result import STATED_PLAN, Review
from review.judge.conditions import nearest
from review.scenario import Scenario
from review.walk.readings import planned
from review.walk.resolve import resolve
from review.walk.runs import PLAN


@dataclass(frozen=True, slots=True)
class Explanation:
    """The working of one measure in one trial."""

    measure_kind: Kind
    at: str
    of: str
    trial: str
    step: str
    quantity: Quantity
    index: int


def explain(
    engine: Measuring,
    scenario: Scenario,
    kind: str,
    at: str | None = None,
    of: str | None = None,
    run: str | None = None,
    step: str | None = None,
) -> Explanation:
    """The working of one measure: at its worst trial, or in the run and step named.

    The one run is walked again with recording on; alone or in a batch the numbers are the
    same. Raises `LookupError` that names the nearest kind, place, run or step.
    """
    if kind not in engine.kinds:
        raise _unknown("measure kind", kind, engine.kinds)
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    overlays = (*planned(resolved), *engine._upsets(resolved, []))
    measures, broken = engine._measure(resolved, overlays, [], frozenset({kind}))
    if kind in broken:
        raise _unknown("measure", kind, (), broken[kind])
    chosen = [m for m in measures if m.kind == kind]
    if not chosen:
        raise _unknown("measure", kind, (), "nothing of this kind was computed here")
    for name, wanted, of_measure in (("place", at, "at"), ("subject", of, "of")):
        if wanted is not None:
            known = [getattr(m, of_measure) for m in chosen]
            chosen = [m for m in chosen if getattr(m, of_measure) == wanted]
            if not chosen:
                raise _unknown(name, wanted, known)
    ids = [o.id for o in overlays]
    if run is not None and run not in ids:
        raise _unknown("run", run, ids)
    cells = [STATED_PLAN, *(s.name for s in resolved.steps)]
    if step == PLAN.id and step not in cells:  # as the case is called in every output
        step = STATED_PLAN
    if step is not None and step not in cells:
        raise _unknown("step", step, cells)
    measure, cell, column = _worst(
        chosen,
        engine.kinds[kind],
        overlays,
        None if run is None else ids.index(run),
        None if step is None else cells.index(step),
    )
    by_kind = engine._recorded(resolved, [overlays[column]], {kind})
    alike = (m for m in by_kind[kind] if (m.at, m.of) == (measure.at, measure.of))
    again = next(alike, measure)  # one that this run alone has no need of has no working
    if again.working is None:
        raise _unknown("working of", kind, (), "the check recorded none")
    return Explanation(
        measure_kind=engine.kinds[kind],
        at=again.at,
        of=again.of,
        trial=overlays[column].title,
        step=cells[cell],
        quantity=again.working,
        index=cell,
    )


def workings(
    engine: Measuring, scenario: Scenario, review: Review, positions: Iterable[int]
) -> dict[int, Explanation]:
    """The working behind findings of a review of this scenario, by their positions.

    What has no measure or whose check records no working is left out. The runs are walked once
    more together, with recording on, or one by one where a check takes one at a time.
    """
    resolved = resolve(scenario, engine.reference, engine._item_kinds)
    overlays = {o.id: o for o in (*planned(resolved), *engine._upsets(resolved, []))}
    cells = [STATED_PLAN, *(s.name for s in resolved.steps)]
    wanted = {}
    for n in positions:
        f = review.findings[n]
        if f.kind in engine.kinds and f.trial in overlays and f.step in cells:
            wanted[n] = f
    kinds = {f.kind for f in wanted.values()}
    runs = list(dict.fromkeys(f.trial for f in wanted.values()))
    one_by_one = any(p.check and p.check.scalar for p, _ in engine._needed_for(kinds))
    found = {}
    for several in [[run] for run in runs] if one_by_one else [runs]:
        by_kind = engine._recorded(resolved, [overlays[run] for run in several], kinds)
        for n, f in wanted.items():
            same = (m for m in by_kind.get(f.kind, ()) if (m.at, m.of) == (f.at, f.of))
            measure = next(same, None)
            if f.trial in several and measure is not None and measure.working is not None:
                trial = cells.index(f.step) * len(several) + several.index(f.trial)
                found[n] = Explanation(
                    engine.kinds[f.kind], f.at, f.of, overlays[f.trial].title, f.step,
                    measure.working, trial,
                )  # fmt: skip
    return found


def _unknown(what: str, text: str, known: Any, why: str = "") -> LookupError:
    return LookupError(f"no {what} {text!r}{nearest(text, known)}" + (f": {why}" if why else ""))


def _worst(
    measures: Sequence[Measure],
    kind: Kind,
    overlays: Sequence[Overlay],
    run: int | None,
    cell: int | None,
) -> tuple[Measure, int, int]:
    """The measure, cell and run with the most hazardous known value among those asked for."""
    best: tuple[float, int, int, int] | None = None
    for n, measure in enumerate(measures):
        hazard = np.where(kind.worse == "higher", measure.value, -measure.value)
        hazard = np.where(np.isnan(hazard), -np.inf, hazard)
        asked = np.zeros(hazard.shape, dtype=bool)
        for column, overlay in enumerate(overlays):
            start = 0 if overlay.from_step is None else overlay.from_step
            asked[start:, column] = run is None or column == run
        if cell is not None:
            asked[np.arange(hazard.shape[0]) != cell] = False
        if not asked.any():
            continue
        hazard = np.where(asked, hazard, -np.inf)
        at = int(np.argmax(np.where(asked, hazard, -np.inf)))
        c, r = np.unravel_index(at, hazard.shape)
        if not asked[c, r]:
            c, r = np.argwhere(asked)[0]
        entry = (float(hazard[c, r]), n, int(c), int(r))
        if best is None or entry[0] > best[0]:
            best = entry
    if best is None:
        raise LookupError("no such trial: the upset begins after the step named")
    return measures[best[1]], best[2], best[3]
