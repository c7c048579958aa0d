"""SARIF: valid by its schema, a result for each finding against the run, at the field it hangs on.

The schema is that of SARIF 2.1.0 (OASIS) as the npm package @microsoft/jest-sarif 1.0.0-beta.0
ships it, under the MIT licence.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from review import Review
from review.render.sarif import dumps, to_sarif
from review.scenario.yaml import read_file
from tests.html_reader import HOSTILE
from tests.support import DEMOS, SCENARIOS, demo_review

SCHEMA = json.loads((Path(__file__).parent / "schemas" / "sarif-2.1.0.json").read_text("utf-8"))
VALIDATOR = jsonschema.Draft4Validator(SCHEMA)


def written(name: str) -> dict[str, Any]:
    path = SCENARIOS / f"{name}.yaml"
    return json.loads(dumps(demo_review(name), read_file(path).places))  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", DEMOS)
def test_every_demo_is_valid_with_a_place_for_each_result(name: str) -> None:
    log, review = written(name), demo_review(name)
    VALIDATOR.validate(log)
    run = log["runs"][0]
    against = [f for f in review.findings if f.grade != "acceptable"]
    found = [(r["ruleId"], r["properties"]["at"], r["properties"]["of"]) for r in run["results"]]
    assert found == [(f.criterion, f.at, f.of) for f in against]
    stops = review.verdict in ("must not proceed", "cannot be judged")
    assert any(r["level"] == "error" for r in run["results"]) == stops
    lines = (SCENARIOS / f"{name}.yaml").read_text("utf-8").splitlines()
    for result in run["results"]:
        region = result["locations"][0]["physicalLocation"]["region"]
        assert lines[region["startLine"] - 1][region["startColumn"] - 1 :].strip()
    assert any("authority having jurisdiction" in c for c in run["properties"]["cautions"])


def test_a_finding_points_to_the_number_that_moves_it_else_to_its_item_or_section() -> None:
    lines = (SCENARIOS / "methanol_over_silver.yaml").read_text("utf-8").splitlines()
    at = {}
    for result in written("methanol_over_silver")["runs"][0]["results"]:
        region = result["locations"][0]["physicalLocation"]["region"]
        text = lines[region["startLine"] - 1][region["startColumn"] - 1 :]
        at[result["ruleId"], result["properties"]["at"]] = text
    # The furnace heats the tube to 550 degC at most; nothing heats the hose.
    assert at["ignition.hot_surface", "tube"].startswith("550 degC")
    assert at["heat.warm_part", "outlet hose"].startswith("id: outlet hose")
    assert "ventilation" in "\n".join(lines)
    assert not at["exposure.ceiling", "breathing zone"].startswith(("{step", "id:"))


def test_a_scenario_whose_places_are_not_known_has_results_without_a_line(review: Review) -> None:
    log = to_sarif(review, {})
    VALIDATOR.validate(log)
    assert "region" not in log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]


def test_hostile_texts_and_paths_stay_valid(review: Review) -> None:
    odd = dataclasses.replace(
        review,
        path="set ups/ü #1?.yaml",
        findings=tuple(dataclasses.replace(f, at=HOSTILE, of="\x1b[2J") for f in review.findings),
    )
    log = json.loads(dumps(odd, {}))
    VALIDATOR.validate(log)
    uri = log["runs"][0]["artifacts"][0]["location"]["uri"]
    assert uri == "set%20ups/%C3%BC%20%231%3F.yaml"
    assert "\x1b" not in log["runs"][0]["results"][0]["message"]["text"]
