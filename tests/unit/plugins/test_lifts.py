"""A line lifted out of a liquid: what is drawn, let out and forgotten, and how long there is."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
import yaml
from scipy.integrate import solve_ivp

from plugins.readiness.lifting import MARGIN
from plugins.shared.lifts import GAS_ENDS
from plugins.shared.names import LIFT_KIND
from review import Engine, InputError, Quantity, Review, loads
from tests.practice.setups import set_ups
from tests.support import shared_engine

NAME = "carbon dioxide from copper carbonate led into limewater"
DATA: dict[str, Any] = yaml.safe_load(next(s.text for s in set_ups() if s.name == NAME))


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def reviewed(engine: Engine, change: dict[str, Any], upsets: bool = True) -> Review:
    data = copy.deepcopy(DATA)
    for path, value in change.items():
        *above, key = path.split(".")
        at: Any = data
        for part in above:
            at = at[int(part)] if part.isdigit() else at[part]
        at.pop(key, None) if value is None else at.__setitem__(key, value)
    return engine.review(loads(yaml.safe_dump(data, sort_keys=False), "x.yaml"), upsets=upsets)


def reach(review: Review, run: str, step: int) -> float:
    measure = next(m for m in review.measures if m.kind == "pressure.suckback_reach")
    runs = [each.id for each in review.trials.runs]
    return float(measure.value[step, runs.index(run)])


def test_nothing_is_drawn_once_it_is_lifted(engine: Engine) -> None:
    plan, never = (
        reviewed(engine, {"procedure.1.lifted": said}, upsets=False) for said in (["dip"], None)
    )
    assert reach(plan, "plan", 3) == 0.0
    assert reach(never, "plan", 3) > 0.6


def test_the_gas_then_goes_to_the_room(engine: Engine) -> None:
    """Led outdoors through the liquid, carbon monoxide is breathed once the tube is lifted."""
    gas = {
        "reagents.carbon dioxide": {
            "state": "gas", "composition": {"carbon monoxide": "100 %"}, "amount": "1 g",
            "held": {"as": "generator", "rate": "15 mL/min"},
        },
        "train.3.to": "outdoors",
    }  # fmt: skip
    data = {**gas, "procedure.1.duration": "30 min"}
    lifted = reviewed(engine, data, upsets=False)
    under = reviewed(engine, {**data, "procedure.1.lifted": None}, upsets=False)

    def most(review: Review) -> float:
        found = [m for m in review.measures
                 if m.kind == "exposure.concentration" and m.of == "carbon monoxide"]  # fmt: skip
        return max(float(np.nanmax(m.value)) for m in found)

    assert most(lifted) > 10 * most(under)


def test_forgotten_it_is_a_condition_at_best(engine: Engine) -> None:
    review = reviewed(engine, {})
    forgotten = {
        outcome.run: outcome.grade
        for outcome in review.outcomes
        if outcome.run.startswith(("not lifted", "skipped:lift", "swapped:lift"))
    }
    assert set(forgotten.values()) == {"tolerable"} and len(forgotten) == 3


@pytest.mark.parametrize(
    ("change", "grade"),
    [
        ({}, "tolerable"),
        ({"operators": 1, "safeguards": []}, "unacceptable"),
        ({"train.0.wall": None, "train.1.length": "80 mm"}, "unacceptable"),
    ],
    ids=["two are there", "one alone", "nobody knows how fast it cools"],
)
def test_the_heat_lost_before(engine: Engine, change: dict[str, Any], grade: str) -> None:
    review = reviewed(engine, {"train.1.length": "80 mm", **change})
    run = f"heat lost:burner:make{GAS_ENDS}"
    assert [o.grade for o in review.outcomes if o.run == run] == [grade]


def test_gas_that_dissolves_leaves_no_time(engine: Engine) -> None:
    ammonia = {
        "reagents.carbon dioxide.composition": {"ammonia": "100 %"},
        "reagents.carbon dioxide.held": {"as": "generator", "rate": "15 mL/min"},
    }
    review = reviewed(engine, ammonia, upsets=False)
    margin = next(m for m in review.measures if m.kind == LIFT_KIND)
    assert margin.value.min() == 0.0


def test_the_time_is_never_too_long() -> None:
    """Against the wall's heat balance integrated in time, black and with convection of 12."""
    for hot, wall, volume, way in ((523.0, 1.2e-3, 25e-6, 5e-6), (873.0, 2e-3, 40e-6, 12e-6)):
        room, holds = 293.15, 1.85e6 * wall  # borosilicate 3.3: 2230 kg/m3 and 830 J/(kg K)

        def cools(_: float, t: Any, holds: float = holds, room: float = room) -> Any:
            return -(12.0 * (t - room) + 5.67e-8 * (t**4 - room**4)) / holds

        def there(
            _: float, t: Any, hot: float = hot, volume: float = volume, way: float = way
        ) -> Any:
            return volume * 293.15 * (1 / t[0] - 1 / hot) - way

        there.terminal = True  # type: ignore[attr-defined]
        found = solve_ivp(cools, (0, 3000), [hot], events=there, max_step=1.0)
        truth = float(found.t_events[0][0])
        tau = 1.6e6 * wall / (20.0 + 5.670374419e-8 * (hot**2 + room**2) * (hot + room))
        parts = {"S": volume * (1 - room / hot), "W": way, "tau": tau, "V": volume, "t": 1.0}
        got = MARGIN(**{k: Quantity.of(v) for k, v in parts.items()}).value[0]
        assert 0.1 * truth < got < truth


def test_only_what_a_line_leads_into_alone_is_lifted(engine: Engine) -> None:
    for wrong in ("tube", "nowhere"):
        with pytest.raises(InputError):
            reviewed(engine, {"procedure.1.lifted": wrong})


def test_the_tube_is_lifted_before_the_heat_is_off(engine: Engine) -> None:
    """What is done at once never lets the liquid up; nobody goes to a leak for it."""
    for run in reviewed(engine, {}).trials.runs:
        said = run.response.rpartition("Else ")[2]  # a blockage keeps people clear of the glass
        if "heat off" in said or "burner off" in said:
            afar = "away from the gas" in said or "blocked" in run.id
            lift = said.lower().find("lift the tube out of dip")
            assert afar or 0 <= lift < said.find(" off"), run.id
        assert "let no air in" not in said or "Open nothing" in said, run.id


def test_a_thin_tube_over_a_flame_cools_by_itself_whatever_is_stated(engine: Engine) -> None:
    """A time constant of an hour, stated for fear of burns, draws no less than one of a minute."""
    slow, fast = (
        reach(
            reviewed(
                engine,
                {"heat.burner.cooling_time": said, "procedure.1.lifted": None},
                upsets=False,
            ),
            "plan",
            3,
        )
        for said in ("1 hour", "1 min")
    )
    assert slow == pytest.approx(fast, rel=0.02)
    assert fast > 0.3
