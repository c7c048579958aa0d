"""The plain data of a review, against the documented structure."""

from __future__ import annotations

import dataclasses
import json
from typing import Any

import numpy as np
import pytest

from review.cautions import CAUTIONS
from review.interface.result import Review
from review.render.json import dumps, to_json

#: The documented structure of ``--format json``.
DOCUMENTED = {
    "": "benchgate scenario ruleset checks verdict findings measures not_covered not_applicable",
    "scenario": "title path sha256",
    "findings": "criterion kind at of grade status case trial step value unit limit action basis"
    " reason bound known",
    "upsets": "id title grade criterion at of step value unit seconds credit",
    "measures": "kind at of unit status plan worst worst_trial method",
}


@pytest.fixture
def data(review: Review) -> dict[str, Any]:
    return to_json(review)


def test_top_level_keys(data: dict[str, Any]) -> None:
    more = {"plugins", "causes", "upsets", "loosened", "cautions"}
    assert set(data) == {*DOCUMENTED[""].split()} | more
    assert list(data["scenario"]) == DOCUMENTED["scenario"].split()
    assert data["ruleset"]["layers"][1] == {"name": "our site", "sha256": "ef" * 32}
    assert data["checks"][0] == {"id": "ignition", "version": "1.2"}
    assert data["cautions"] == list(CAUTIONS)


@pytest.mark.parametrize("part", ["findings", "upsets", "measures"])
def test_keys_of_each_row(data: dict[str, Any], part: str) -> None:
    assert data[part]
    for row in data[part]:
        assert list(row) == DOCUMENTED[part].split()


def test_every_finding_is_there_in_order(data: dict[str, Any], review: Review) -> None:
    assert [f["criterion"] for f in data["findings"]] == [f.criterion for f in review.findings]


def test_every_single_failure_is_there(data: dict[str, Any], review: Review) -> None:
    assert [u["id"] for u in data["upsets"]] == [o.run for o in review.outcomes]
    timed, untimed = data["upsets"][:2]
    assert timed["seconds"] == 40.0
    assert untimed["seconds"] is None
    assert data["upsets"][2]["value"] is None


def test_a_missing_number_is_null_and_an_endless_one_a_word(data: dict[str, Any]) -> None:
    room = next(f for f in data["findings"] if f["criterion"] == "breathing.room")
    assert room["value"] is None
    assert room["limit"] is None
    argon = next(m for m in data["measures"] if m["of"] == "argon")
    assert argon["plan"] == argon["worst"] == "inf"


def test_worst_looks_at_the_plan_and_at_upsets_once_begun(data: dict[str, Any]) -> None:
    share = data["measures"][0]
    assert share["plan"] == 0.2
    assert share["worst"] == 2.5
    assert share["worst_trial"] == {"trial": "argon lost@1", "step": "purge"}
    assert share["status"] == "ok"


def test_worst_is_the_lowest_where_lower_is_worse(data: dict[str, Any]) -> None:
    minutes = data["measures"][1]
    assert minutes["plan"] is None
    assert minutes["worst"] == 30.0
    assert minutes["worst_trial"] == {"trial": "hood lost@2", "step": "cool"}
    assert minutes["status"] == "missing"


def test_a_measure_nobody_knows(data: dict[str, Any]) -> None:
    wall = data["measures"][3]
    assert (wall["plan"], wall["worst"], wall["worst_trial"]) == (None, None, None)
    assert wall["status"] == "missing"


@pytest.mark.parametrize("status", [np.zeros((2, 2), dtype=np.uint8), np.full((4, 6), 9)])
def test_a_malformed_measure_is_missing(review: Review, status: Any) -> None:
    shape = status.shape
    odd = dataclasses.replace(review.measures[0], value=np.ones(shape), status=status)
    (row,) = to_json(dataclasses.replace(review, measures=(odd,)))["measures"]
    assert (row["status"], row["plan"], row["worst"]) == ("missing", None, None)


def test_the_text_is_strict_json_in_ascii(review: Review) -> None:
    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    text = dumps(review)
    assert text.isascii()
    assert json.loads(text, parse_constant=refuse) == to_json(review)
