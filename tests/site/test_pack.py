"""A site's plugin and ruleset, never loaded by default, at work through the command line."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from review import Engine
from review.testing import assert_grade, conformance, measure, review_with

Run = Callable[..., Result]

PACK = Path(__file__).parent / "pack"
BENCH, RULES = PACK / "bench.yaml", PACK / "house_rules.yaml"
PLUGIN = PACK / "liquid_nitrogen.py"

#: 25 L of liquid, 806.1 g/L over 28.0134 g/mol: 719.4 mol, of 24.055 L each at 20 degC and 1 atm
#: (8.314463 * 293.15 / 101325): 17.305 m3. Of 60 m3: 0.2095 * (1 - 0.28842).
#: Handbooks give 1 L of liquid as about 694 L of gas at 20 degC (from memory); here 692.
LEFT = 0.14907


def sha256(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()


@pytest.fixture
def as_json(run: Run) -> Callable[..., Any]:
    def review(*options: object) -> Any:
        done = run("check", BENCH, "--format", "json", *options)
        assert done.exit_code in (0, 1), done.output
        return json.loads(done.stdout)

    return review


def eight_hour(data: Any) -> float:
    (found,) = [
        m["plan"]
        for m in data["measures"]
        if m["kind"] == "exposure.eight_hour_ratio" and m["of"] == "carbon monoxide"
    ]
    return float(found)


def grades(data: Any, criterion: str) -> set[str]:
    return {f["grade"] for f in data["findings"] if f["criterion"] == criterion}


def test_oxygen_left_worked_by_hand() -> None:
    review = review_with(plugin_files=[PLUGIN], scenario=BENCH)
    found = measure(review, "liquid_nitrogen.oxygen", "dewar of liquid nitrogen")
    assert found.value[0, 0] == pytest.approx(LEFT, rel=2e-4)
    assert_grade(review, "liquid_nitrogen.oxygen", "unacceptable")


@pytest.mark.parametrize(
    ("old", "new", "grade"),
    [
        # 1 L: 0.6922 m3 of 60 leave 0.2095 * 0.98846 = 0.20708; 5 L: 3.461 m3 leave 0.19742
        ("amount: 25 L", "amount: 1 L", "acceptable"),
        ("amount: 25 L", "amount: 5 L", "acceptable"),
        # 7 L: 4.845 m3 leave 0.19258
        ("amount: 25 L", "amount: 7 L", "tolerable"),
        ("amount: 25 L", "amount: 20 kg", "undetermined"),
        ("    amount: 25 L\n", "", "undetermined"),
        ("room_volume: 60 m3, ", "", "undetermined"),
        ("state: liquid", "state: gas", "acceptable"),
    ],
)
def test_grades(old: str, new: str, grade: Any) -> None:
    text = BENCH.read_text("utf-8")
    assert text.count(old) == 1
    review = review_with(plugin_files=[PLUGIN], scenario=text.replace(old, new))
    assert_grade(review, "liquid_nitrogen.oxygen", grade, case="plan")


def test_it_keeps_what_every_check_must() -> None:
    conformance(PLUGIN, BENCH)


def test_nothing_of_it_is_loaded_by_default(as_json: Callable[..., Any]) -> None:
    data = as_json()
    assert data["plugins"] == []
    assert not any("liquid_nitrogen" in c["id"] for c in data["checks"])
    assert not any("house" in layer["name"] for layer in data["ruleset"]["layers"])
    assert not grades(data, "liquid_nitrogen.oxygen")


def test_the_plugin_through_the_command_line(as_json: Callable[..., Any], run: Run) -> None:
    data = as_json("--plugin", PLUGIN)
    assert data["plugins"] == [{"name": "liquid_nitrogen", "sha256": sha256(PLUGIN)}]
    assert grades(data, "liquid_nitrogen.oxygen") == {"unacceptable"}
    layers = {layer["name"]: layer["sha256"] for layer in data["ruleset"]["layers"]}
    assert layers["liquid nitrogen"] == sha256(PACK / "liquid_nitrogen.yaml")
    shown = run("explain", BENCH, "liquid_nitrogen.oxygen", "--plugin", PLUGIN).stdout
    assert "806.1" in shown and "BCGA" in shown


def test_the_ruleset_through_the_command_line(as_json: Callable[..., Any]) -> None:
    before, after = as_json(), as_json("--rules", RULES)
    assert eight_hour(before) > 0
    assert eight_hour(after) == pytest.approx(2 * eight_hour(before), rel=1e-12)
    rule = "house_rules.carbon_monoxide_detector"
    assert not grades(before, rule)
    assert grades(after, rule) == {"unacceptable"}
    layers = {layer["name"]: layer["sha256"] for layer in after["ruleset"]["layers"]}
    assert layers["house rules"] == sha256(RULES)


def test_a_claimed_detector_answers_the_rule() -> None:
    claim = "safeguards:\n  - {kind: detector, senses: carbon monoxide, alarm: 10 ppm, at: room}\n"
    review = review_with(rules=[RULES], scenario=BENCH.read_text("utf-8") + claim)
    assert_grade(review, "house_rules.carbon_monoxide_detector", "acceptable")


def test_the_report_names_layer_plugin_and_hashes(run: Run) -> None:
    done = run("check", BENCH, "--full", "--plugin", PLUGIN, "--rules", RULES)
    shown = " ".join(done.stdout.split())
    assert "house rules, 4" in shown
    for name, file in (
        ("house rules", RULES),
        ("liquid nitrogen", PACK / "liquid_nitrogen.yaml"),
        ("Plugins: liquid_nitrogen", PLUGIN),
    ):
        assert f"{name} {sha256(file)[:12]}" in shown
    assert "Emergency of the site: the number on the door" in shown
    assert "Liquid nitrogen in the room: cold burns" in shown


def test_a_changed_plugin_has_another_hash(tmp_path: Path) -> None:
    for name in ("liquid_nitrogen.py", "liquid_nitrogen.yaml"):
        (tmp_path / name).write_bytes((PACK / name).read_bytes())
    copy = tmp_path / "liquid_nitrogen.py"
    before = Engine(plugin_files=[copy]).plugins
    copy.write_text(copy.read_text("utf-8") + "\n# changed\n", "utf-8")
    after = Engine(plugin_files=[copy]).plugins
    assert before[0].sha256 == sha256(PLUGIN) != after[0].sha256 == sha256(copy)
