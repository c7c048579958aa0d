"""What is said counts wherever it is said; what is left out is no better than the worst of it."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from review import Engine, InputError, loads
from tests.laws.law import answered, milder, read
from tests.support import SCENARIOS, shared_engine

GAS = """
title: A gas through a meter
reagents:
  gas: {state: gas, composition: {carbon dioxide: 100 %}, held: {as: cylinder}}
flows:
  a: {reagent: gas, into: hose, rate: 100 mL/min, reference: normal,
      instrument: {kind: mass flow controller, calibration_gas: CALIBRATED}}
train:
- {id: hose, kind: line, inner_diameter: 4 mm, length: 1 m, joint: noneMORE}
- {id: out, kind: outlet, to: hood, inner_diameter: 4 mm}
procedure:
- {step: flow, duration: 10 min, flows: {a: on}}
"""


def test_the_gas_a_controller_was_calibrated_for_counts(walked) -> None:
    """Carbon dioxide through one scaled for nitrogen: 0.70 to 0.74 of the reading (makers' tables,
    from memory); the error of the table is on the side that harms, either way."""
    own, other = (
        float(walked(GAS.replace("CALIBRATED", gas).replace("MORE", "")).places[0].flow.value[1])
        for gas in ("carbon dioxide", "nitrogen")
    )
    assert 0.65 * own < other < 0.85 * own
    assert own == pytest.approx(101325 * 100e-6 / 60 / (8.314462618 * 273.15), rel=1e-3)


@pytest.mark.parametrize(("said", "hot"), [("", False), (", temperature: 35 degC", False),
                                           (", temperature: 350 degC", True)])  # fmt: skip
def test_a_temperature_on_an_item_heats_what_flows_through_it(walked, said: str, hot: bool) -> None:
    found = walked(GAS.replace("CALIBRATED", "nitrogen").replace("MORE", said))
    assert (float(found.places[0].hottest.value[1]) > 600.0) == hot


def test_a_hot_item_fails_as_a_heater_does() -> None:
    """It runs to more than its setting: the same failures as of a heater under `heat:`."""
    engine = shared_engine()

    def failures(said: str) -> set[str]:
        text = GAS.replace("CALIBRATED", "nitrogen").replace("MORE", said)
        return {o.run.split(":")[0] for o in engine.review(loads(text, "x.yaml")).outcomes}

    assert "heat at its most" in failures(", temperature: 350 degC") - failures("")


@pytest.mark.parametrize(("second", "wrong"), [("40 %", False), ("70 %", True)])
def test_reactions_take_no_more_than_all_of_a_reactant(second: str, wrong: bool) -> None:
    said = (
        ", reactions: [{equation: CO2 + H2 -> CO + H2O, limiting: carbon dioxide,"
        " conversion: 60 %},"
        f" {{equation: CO2 + 4 H2 -> CH4 + 2 H2O, limiting: carbon dioxide, conversion: {second}}}]"
    )
    text = GAS.replace("CALIBRATED", "nitrogen").replace("MORE", said)
    text = text.replace("carbon dioxide: 100 %", "carbon dioxide: 10 %, hydrogen: 90 %")
    engine = shared_engine()
    try:
        engine.review(engine.loads(text), upsets=False)
    except InputError:
        assert wrong
    else:
        assert not wrong


def _demo(name: str) -> Any:
    return read((SCENARIOS / f"{name}.yaml").read_text("utf-8"))


def test_insulation_left_out_is_no_better_than_none(engine: Engine) -> None:
    data = _demo("copper_oxide_forming_gas")
    (heater,) = data["heat"].values()
    assert "insulation" not in heater
    left_out = answered(engine, data, upsets=False)
    heater["insulation"] = "none"
    none = answered(engine, data, upsets=False)
    assert left_out is not None and none is not None
    assert list(milder(left_out, none)) == []


def test_how_the_room_mixes_left_out_is_no_better_than_badly(engine: Engine) -> None:
    data = _demo("carbon_monoxide_detector_in_the_room")
    data["ventilation"].pop("mixing_factor", None)
    left_out = answered(engine, data, upsets=False)
    data["ventilation"]["mixing_factor"] = 10
    badly = answered(engine, data, upsets=False)
    assert left_out is not None and badly is not None
    assert list(milder(left_out, badly)) == []


def test_a_frame_left_out_is_a_condition(engine: Engine) -> None:
    """The one property where nothing said may become a condition, which two people sign."""
    data = _demo("nitrogen_dried")
    assert data["frame"] == "stands by itself on the bench"

    def asked() -> set[str]:
        review = engine.review(engine.loads(_text(data)), upsets=False)
        return {f.criterion for f in review.findings
                if f.criterion.startswith("stability.") and f.grade != "acceptable"}  # fmt: skip

    said = asked()
    del data["frame"]
    assert asked() - said


def _text(data: Any) -> str:
    return str(yaml.safe_dump(data, sort_keys=False, allow_unicode=True))
