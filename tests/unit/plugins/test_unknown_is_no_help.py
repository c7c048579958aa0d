"""What nobody stated never helps, and a failure does nothing before it begins."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from plugins.readiness.closing import Closing
from review import loads
from tests.practice.test_flaws import over
from tests.practice.test_plain import ZINC, made
from tests.support import shared_engine

RATE, HELD = 1e-4, 4e-3  # mol/s, mol


def rest(rate: float) -> float:
    """How long 4 mmol of gas in one vessel goes on flowing once the valve is shut, s."""
    volume = HELD * 8.314462618 * 293.15 / 101325.0
    one = SimpleNamespace(
        is_end=False,
        pressure=SimpleNamespace(value=np.array([101325.0])),
        volume=SimpleNamespace(value=np.array([volume])),
        delivered=SimpleNamespace(value=np.array([rate])),
    )
    room = SimpleNamespace(value=np.array([293.15]))
    closing = SimpleNamespace(setup=SimpleNamespace(places=[one], trials=1, number=lambda _: room))
    return float(Closing.rest.fget(closing)[0])  # type: ignore[attr-defined]


def test_a_supply_of_unknown_rate_may_empty_the_train_for_ever() -> None:
    assert rest(RATE) == pytest.approx(HELD / RATE, rel=1e-6)
    assert rest(0.0) == 0.0
    assert rest(float("nan")) == np.inf


def test_a_bed_of_unstated_length_leaves_no_longer_until_it_bursts() -> None:
    found = []
    for length in ("length: 50 mm, ", ""):
        review = shared_engine().review(
            loads(over("nitrogen: 100 %", "alumina").replace("length: 50 mm, ", length))
        )
        (seconds,) = [
            m for m in review.measures if m.kind == "pressure.plugged_seconds" and m.at == "out"
        ] or [m for m in review.measures if m.kind == "pressure.plugged_seconds" and m.at == "tube"]
        found.append(float(np.nanmin(seconds.value)))
    assert found[1] < found[0]


def test_until_it_begins_a_failure_is_the_plan() -> None:
    """A flask shut on purpose is not taken to lift its stopper in runs that fail only later."""
    text = made(*ZINC, 250).replace("inner_diameter: 8 mm}", "inner_diameter: 8 mm, open: no}")
    text = text.replace("relief: {opens_at: 0.03 bar gauge, bore: 6 mm, length: 300 mm}", "")
    review = shared_engine().review(loads(text.replace(", }", "}")))
    (working,) = [
        m for m in review.measures if m.kind == "pressure.working_over_rating" and m.at == "flask"
    ]
    value = np.asarray(working.value)
    later = [n for n, run in enumerate(review.trials.runs) if run.from_step == 2]
    assert later
    assert (value[1, later] == value[1, 0]).all()


def test_a_charge_that_nobody_weighed_is_one_cause() -> None:
    told = made(*ZINC, 250)
    review = shared_engine().review(loads(told.replace("amount: 1 g", "amount: 1 mL")))
    unknown = {f.criterion for f in review.findings if f.grade == "undetermined" and f.blocks}
    assert {"readiness.charge", "heat.charge"} <= unknown
    (cause,) = [c for c in review.causes if c.lacks]
    refused = {
        review.findings[n].criterion
        for c in review.causes if c.grade == "unacceptable" for n in c.findings
    }  # fmt: skip
    assert unknown - refused <= {review.findings[n].criterion for n in cause.findings}
