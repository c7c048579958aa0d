"""What of a vapour at rest passes the cold surfaces on its way out."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import yaml

from review import Review, loads
from tests.practice.setups import set_ups
from tests.support import shared_engine

NAME = "iodine sublimed under a cold finger"
DATA: dict[str, Any] = yaml.safe_load(next(s.text for s in set_ups() if s.name == NAME))
ENGINE = shared_engine()


def breathed(change: Any) -> float:
    """Iodine in the air while it is warm, should the hood catch nothing."""
    data = copy.deepcopy(DATA)
    change(data)
    data["ventilation"].pop("hood")
    data["train"][-1]["to"] = "room"
    for item in data["train"]:
        item.pop("in", None)
    text = yaml.safe_dump(data, sort_keys=False)
    review: Review = ENGINE.review(loads(text, "x.yaml"), upsets=False)
    (found,) = [m for m in review.measures
                if m.kind == "exposure.concentration" and m.of == "iodine"]  # fmt: skip
    return float(np.nanmax(found.value[1]))


def test_a_cold_surface_lets_a_tenth_and_what_saturates_past() -> None:
    """At 2 degC and 10 K more iodine has some 13 Pa (CRC Handbook, from memory) of 800 to 1150."""
    free = breathed(lambda d: d["train"].pop(1))
    cold = breathed(lambda d: None)
    assert 0.10 < cold / free < 0.10 + 1.45 * 13 / 560


def test_one_that_is_not_cold_holds_nothing_back() -> None:
    warm = breathed(lambda d: d["train"][1].pop("temperature"))
    assert warm == breathed(lambda d: d["train"][1].update(temperature="20 degC"))
    assert warm > 5 * breathed(lambda d: None)


def test_a_second_way_past_it_counts_as_open() -> None:
    def side(d: Any) -> None:
        d["train"].append({"id": "side", "kind": "outlet", "from": "beaker", "to": "room",
                           "inner_diameter": "40 mm"})  # fmt: skip

    assert breathed(side) > 5 * breathed(lambda d: None)
