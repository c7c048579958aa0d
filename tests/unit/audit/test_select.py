"""Which set-ups a condition chooses, and for which nobody can tell."""

from __future__ import annotations

import json
from typing import Any

import pytest

from review.audit.select import FOUND, Selection, choose, selecting
from review.engine.reviewing import Engine
from review.judge.conditions import RulesetError
from review.scenario import loads
from tests.support import shared_engine


def paths(store: Any, table: str) -> list[str]:
    return [path for (path,) in store.execute(f"SELECT path FROM temp.{table} ORDER BY path")]


@pytest.fixture
def chosen(invented: Any) -> Any:
    """Which rows a condition chooses: (chosen, untold)."""

    def choose_from(text: str, *rows: Any) -> tuple[list[str], list[str]]:
        with invented.read(*rows) as store:
            condition = selecting(text, invented.kinds)
            told = choose(store, condition, invented.kinds)
            found = paths(store, "chosen"), paths(store, "untold")
            assert told == Selection(text, len(found[0]), len(found[1]), len(rows))
        return found

    return choose_from


def test_without_a_condition_every_set_up_is_chosen_but_no_skipped_file(invented: Any) -> None:
    rows = (
        invented.row("a.yaml"),
        invented.row("b.yaml", state="error", error="no"),
        invented.row("notes.json", state="skipped", source="other"),
    )
    with invented.read(*rows) as store:
        assert choose(store, None, {}) == Selection("", 2, 0, 2)
        assert paths(store, "chosen") == ["a.yaml", "b.yaml"]
        assert paths(store, "untold") == []


def test_choosing_again_starts_afresh(invented: Any) -> None:
    with invented.read(invented.row("a.yaml")) as store:
        choose(store, None, {})
        condition = selecting("!facts.has_heat", [])
        assert choose(store, condition, {}).chosen == 0
        assert paths(store, "chosen") == []


def test_facts_choose_and_what_is_not_known_is_told_apart(invented: Any, chosen: Any) -> None:
    def row(path: str, facts: dict[str, Any]) -> Any:
        return invented.row(path, facts=json.dumps(facts))

    rows = [
        row("hot.yaml", {"has_heat": True}),
        row("cold.yaml", {"has_heat": False}),
        row("old.yaml", {}),
        invented.row("broken.yaml", state="error", error="not YAML"),
    ]
    assert chosen("facts.has_heat", *rows) == (["hot.yaml"], ["broken.yaml", "old.yaml"])


def test_hydrogen_sulfide_without_a_detector(
    invented: Any, chosen: Any, readme_selection: str
) -> None:
    """The expression is the one that README.md gives."""

    def row(path: str, substances: list[str], undetected: list[str]) -> Any:
        facts = {"substances": substances, "undetected": undetected}
        return invented.row(path, facts=json.dumps(facts))

    rows = [
        row("a.yaml", ["hydrogen sulfide", "argon"], ["hydrogen sulfide"]),
        row("b.yaml", ["hydrogen sulfide", "argon"], []),
        row("c.yaml", ["argon"], []),
        row("d.yaml", ["hydrogen sulfide", "ammonia"], ["ammonia"]),
    ]
    assert chosen(readme_selection, *rows) == (["a.yaml"], [])


SCENARIO = """
title: Gas bubbled through water
operators: 1
reagents:
  mixture:
    state: gas
    composition: {hydrogen sulfide: 2 %, nitrogen: 98 %}
    held: {as: cylinder, volume: 1 L, pressure: 10 bar gauge, regulator: 0.1 bar gauge}
flows:
  feed: {reagent: mixture, into: hose, rate: 50 mL/min, reference: standard, at_most: 1 L/min}
train:
  - {id: hose, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m}
  - {id: outlet, kind: outlet, to: hood}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
  - {step: run, duration: 10 min, flows: {feed: on}}
"""


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.mark.parametrize(
    ("senses", "found"),
    [("", True), ("hydrogen", True), ("hydrogen sulfide", False), ("H2S", False)],
)
def test_that_expression_on_facts_of_a_real_set_up(
    senses: str, found: bool, readme_selection: str, engine: Engine
) -> None:
    detector = f"safeguards:\n  - {{kind: detector, senses: {senses}, at: room, alarm: 10 ppm}}\n"
    text = SCENARIO + (detector if senses else "")
    facts = engine.review(loads(text, "made up"), upsets=False).facts
    assert selecting(readme_selection, []).evaluate(facts, {}) is found


def test_the_worst_value_in_the_direction_of_its_kind(invented: Any, chosen: Any) -> None:
    def row(path: str, *findings: Any) -> Any:
        return invented.row(path, list(findings))

    def reserve(value: float | None, **told: Any) -> Any:
        return invented.finding("demo.reserve", value=value, kind="demo.reserve", **told)

    rows = [
        row("a.yaml", reserve(300.0), reserve(20.0, at="hose")),
        row("b.yaml", reserve(300.0), reserve(200.0, at="hose")),
        row("c.yaml", reserve(300.0), reserve(None, at="hose", status="missing")),
        row("d.yaml", reserve(300.0), reserve(20.0, at="hose", status="outside range")),
        row("e.yaml", reserve(20.0, status="estimated")),
        row("f.yaml", invented.finding()),
        row("g.yaml", reserve(float("-inf"))),
    ]
    found, untold = chosen("worst.demo.reserve < 100.0", *rows)
    assert found == ["a.yaml", "e.yaml", "g.yaml"]
    assert untold == ["c.yaml", "d.yaml", "f.yaml"]
    assert chosen("worst.demo.share > 0.4", row("a.yaml", invented.finding(value=0.5)))[0]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("'a.rule' in found.unacceptable", ["wrong.yaml"]),
        ("'a.rule' in found.undetermined", ["mixed.yaml"]),
        ("'a.rule' in found.tolerable", ["mixed.yaml"]),
        ("'a.rule' in found.acceptable", ["fine.yaml"]),
        ("found.verdict == 'cannot be judged'", ["mixed.yaml"]),
        ("found.failing_upsets == 2", ["wrong.yaml"]),
        ("found.failing_upsets == 0", ["fine.yaml", "mixed.yaml"]),
    ],
)
def test_what_was_found(invented: Any, chosen: Any, text: str, names: list[str]) -> None:
    def rule(grade: str, at: str = "tube") -> Any:
        return invented.finding("a.rule", grade, at=at)

    rows = [
        invented.row("fine.yaml", [rule("acceptable")], [invented.upset("x", "tolerable")]),
        invented.row(
            "mixed.yaml", [rule("undetermined"), rule("tolerable"), rule("acceptable", "hose")]
        ),
        invented.row(
            "wrong.yaml",
            [rule("unacceptable"), rule("acceptable", "hose")],
            [invented.upset("x", "unacceptable"), invented.upset("y", "undetermined")],
        ),
    ]
    assert chosen(text, *rows) == (names, [])


def test_who_is_signed(invented: Any, chosen: Any) -> None:
    good = [invented.finding()]
    rows = [
        invented.row("plain.yaml"),
        invented.row("wrong.yaml", state="error", error="no"),
        invented.record("one.json", good),
        invented.record("two.json", good, state="error", error="an unknown substance"),
        invented.record("three.json", good, state="error", error="broken", signed_at=None),
    ]
    assert chosen("found.signed", *rows) == (["one.json", "two.json"], ["three.json"])


def test_of_what_was_not_reviewed_nothing_was_found(invented: Any, chosen: Any) -> None:
    row = invented.row("broken.yaml", state="error", error="not YAML")
    for text in ("size(found.unacceptable) == 0", "found.failing_upsets == 0"):
        assert chosen(text, row) == ([], ["broken.yaml"])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("found.verdit == 'may proceed'", "did you mean 'found.verdict'?"),
        ("facts.has_het", "did you mean 'facts.has_heat'?"),
        ("worst.demo.shares > 1.0", "did you mean 'worst.demo.share'?"),
        ("found.signed &&", "Syntax error"),
        ("facts.steps", "must give bool"),
    ],
)
def test_a_wrong_expression_is_refused_with_the_nearest_name(
    invented: Any, text: str, says: str
) -> None:
    with pytest.raises(RulesetError, match="--select") as error:
        selecting(text, invented.kinds)
    assert says in str(error.value)


def test_every_name_of_the_family_can_be_asked() -> None:
    asked = {
        "bool": "found.{}", "string": "found.{} == ''", "int": "found.{} > 0",
        "list<string>": "size(found.{}) > 0",
    }  # fmt: skip
    for name, (type_name, _) in FOUND.items():
        assert selecting(asked[type_name].format(name), []).names == {f"found.{name}"}
