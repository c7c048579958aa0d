"""Polymers that meet a gas for an hour of a run, and a vessel that no frame carries."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import yaml

from review import Review, loads
from tests.practice.setups import set_ups
from tests.support import shared_engine

TEXTS = {s.name: s.text for s in set_ups()}
HEXANE = "hexane distilled on a water bath with a hose to the hood"
ENGINE = shared_engine()


def reviewed(name: str, change: Callable[[Any], object]) -> Review:
    data: Any = copy.deepcopy(yaml.safe_load(TEXTS[name]))
    change(data)
    return ENGINE.review(loads(yaml.safe_dump(data, sort_keys=False), "x.yaml"))


def lasts(minutes: int) -> Callable[[Any], object]:
    return lambda d: d["procedure"][0].update(duration=f"{minutes} min")


@pytest.mark.parametrize(("minutes", "refused"), [(30, False), (90, True)])
def test_a_hose_bears_solvent_vapour_for_an_hour_of_a_failure(minutes: int, refused: bool) -> None:
    """ISO 1817 immerses for 22 h at least (from memory); an hour is common practice."""
    review = reviewed(HEXANE, lasts(minutes))
    found = {f.grade for f in review.findings if f.criterion == "corrosion.wetted"}
    assert ("unacceptable" in found) is refused


@pytest.mark.parametrize("vapour", ["acetic acid", "n-hexane"])
def test_what_also_corrodes_is_given_no_hour(vapour: str) -> None:
    def change(d: Any) -> None:
        d["reagents"]["solvent"]["composition"] = {vapour: "100 %"}
        hot = {"kind": "heating mantle", "set_temperature": "130 degC", "hottest": "140 degC"}
        d["heat"]["bath"].update(hot)

    review = reviewed(HEXANE, change)
    (found,) = [m for m in review.measures if m.kind == "corrosion.rating" and m.at == "hose"
                and m.of == f"silicone rubber and {vapour}"]  # fmt: skip
    runs = [run.id for run in review.trials.runs]
    lost = float(found.value[1, runs.index("cooling lost:condenser:boil")])
    rated = ENGINE.reference.material("silicone rubber").rating(
        ENGINE.reference.substance(vapour), None
    )
    assert rated is not None
    listed = float(rated.at(np.array([293.15]))[0])
    assert lost == (listed - 1 if vapour == "n-hexane" else listed)


def test_a_vessel_beside_the_frame_is_not_asked_for() -> None:
    name = "water boiled in a flask on a stand"
    said, unsaid = (
        reviewed(name, change)
        for change in (lambda d: None, lambda d: d["train"][2].pop("beside_frame"))
    )
    graded = [{f.grade for f in r.findings if f.criterion == "stability.tipping"}
              for r in (said, unsaid)]  # fmt: skip
    assert graded == [{"acceptable"}, {"undetermined"}]


@pytest.mark.parametrize(("share", "material", "rated"), [
    (21, "silicone rubber", 0), (23, "natural rubber", 0), (24, "silicone rubber", 1),
    (60, "natural rubber", 1), (21, "nickel", 1), (100, "PTFE", 0),
])  # fmt: skip
def test_rubber_is_used_in_air_and_not_in_more_oxygen(
    share: int, material: str, rated: int
) -> None:
    """29 CFR 1910.146: air is enriched above 23.5 % oxygen."""
    text = f"""\
title: t
reagents:
  gas: {{state: gas, composition: {{oxygen: {share} %, nitrogen: {100 - share} %}}}}
flows: {{feed: {{reagent: gas, into: hose, rate: 100 mL/min, reference: normal}}}}
train:
- {{id: hose, kind: line, material: {material}, inner_diameter: 6 mm, wall: 1 mm, length: 1 m}}
- {{id: out, kind: outlet, to: hood}}
procedure:
- {{step: run, duration: 10 h, flows: {{feed: on}}}}
"""
    text = text.replace("nitrogen: 0 %", "argon: 0 %")
    review = ENGINE.review(loads(text, "x.yaml"), upsets=False)
    (found,) = [m for m in review.measures if m.kind == "corrosion.rating" and m.at == "hose"
                and m.of == f"{material} and oxygen"]  # fmt: skip
    assert float(np.max(found.value)) == rated
