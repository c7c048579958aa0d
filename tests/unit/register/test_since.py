"""What a record rests on and is no longer as it was, in words."""

from __future__ import annotations

import copy
import platform
from pathlib import Path
from typing import Any

import pytest

from review import Engine, load
from review.judge.effective import ruleset_to_json
from review.provenance import code_hash, libraries
from review.register.moves import Move
from review.register.since import Since, since
from tests.support import shared_engine

DEMO = Path(__file__).parents[3] / "scenarios" / "water_warmed_in_a_bath.yaml"


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.fixture(scope="module")
def today(engine: Engine) -> tuple[Any, dict[str, Any]]:
    """Today's review of a demo, and what a record of it would rest on."""
    review = engine.review(load(DEMO))
    return review, {
        "ruleset": ruleset_to_json(engine.ruleset),
        "data": [
            {"kind": d.kind, "name": d.name, "file": d.file, "sha256": d.sha256}
            for d in review.data
        ],
        "tool": {
            "benchgate": review.version,
            "code": code_hash(),
            "python": platform.python_version(),
            "libraries": libraries(),
            "plugins": [],
        },
    }


def changed(engine: Engine, today: tuple[Any, dict[str, Any]], edit: str) -> Since:
    """What has changed since a record that one statement, which calls it `r`, makes differ."""
    review, record = today
    then = copy.deepcopy(record)
    rules = {each["id"]: each for each in then["ruleset"]["criteria"]}
    exec(edit, {"r": then, "rules": rules})
    return since(then, engine, review)


def test_nothing_has_changed_since_now(engine: Engine, today: Any) -> None:
    assert changed(engine, today, "pass") == Since((), (), {}, ())


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (
            "rules['flammability.envelope']['bands']['upset']['acceptable'] = 0.1",
            "in upset, acceptable was at least 0.1, is at least 0.2",
        ),
        (
            "[rules['heat.hot_part']['bands'][c].update(tolerable=-5.0) for c in ('plan', 'step')]",
            "in plan and step, tolerable was at most -5 K, is at most 1200 K",
        ),
        (
            "rules['heat.hot_part']['bands']['upset']['tolerable'] = 1e9",
            "in upset, tolerable was anything, is at most 1200 K",
        ),
        (
            "rules['corrosion.wetted']['bands']['plan']['tolerable'] = 0.0",
            "in plan, tolerable was at most resistant, is at most limited",
        ),
        (
            "rules['flammability.envelope']['blocks'] = False",
            "whether it blocks when it cannot be judged was no, is yes",
        ),
        (
            "rules['flammability.envelope']['action'] = 'Look.'",
            'what to do was "Look.", is "',
        ),
        (
            "rules['flammability.envelope']['applies'] = 'facts.has_heat'",
            'when it applies was "facts.has_heat", is ',
        ),
    ],
)  # fmt: skip
def test_a_rule_that_changed(engine: Engine, today: Any, edit: str, told: str) -> None:
    [(id, said)] = changed(engine, today, edit).rules.items()
    assert said.startswith(f"rule {id}, now as ")
    assert told in said


def test_what_grades_nothing_is_no_change_of_a_rule(engine: Engine, today: Any) -> None:
    edit = "rules['flammability.envelope'].update(title='a', basis={}, applies_reason='b')"
    assert changed(engine, today, edit).rules == {}


def test_a_rule_that_is_new_and_one_that_is_gone(engine: Engine, today: Any) -> None:
    edit = "rules['flammability.envelope']['id'] = 'flammability.room'"
    assert changed(engine, today, edit).rules == {
        "flammability.room": "rule flammability.room of general is no longer in force",
        "flammability.envelope": "rule flammability.envelope of general is new",
    }


def test_a_record_of_a_tool_that_knew_fewer_fields(engine: Engine, today: Any) -> None:
    edit = "[rule.pop(k) for rule in rules.values() for k in ('condition', 'bands', 'action')]"
    found = changed(engine, today, edit)
    assert "tolerable was nothing" in found.rules["flammability.envelope"]


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        ("r['ruleset']['limits']['a.b'] = {'value': 'inf'}", "the limit a.b was unlimited, is not"),
        ("r['tool']['code'] = ''", "the code of benchgate has changed"),
        ("r['tool'].update(code='', benchgate='0.0.1')", "(0.0.1 then, "),
        ("r['tool']['python'] = '2.7.18'", "Python was 2.7.18, is "),
        ("r['tool']['libraries']['scipy'] = '0.1'", "scipy was 0.1, is "),
        ("r['tool']['plugins'].append({'name': 'x', 'sha256': ''})", "plugin 'x' was not given"),
        ("r['data'][0]['sha256'] = ''", " have changed"),
        ("r['data'][0]['file'] = 'substances/house'", "and came from substances/house"),
        ("r['data'][0].update(file='', sha256='')", "and came from no file"),
    ],
)
def test_a_ground_that_changed(engine: Engine, today: Any, edit: str, told: str) -> None:
    [said] = changed(engine, today, edit).grounds
    assert told in said


def test_a_layer_and_a_plugin_that_were_not_given(engine: Engine, today: Any) -> None:
    edit = (
        "r['tool']['plugins'] = [{'name': 'x', 'sha256': ''}]\n"
        "r['ruleset']['layers'] += [{'name': n, 'sha256': ''} for n in ('x', 'our bench')]"
    )
    found = changed(engine, today, edit)
    assert found.absent == ("reviewed with plugin 'x', which was not given now: add --plugin",)
    assert found.other == ("it was signed under rules 'our bench', which are not given today",)


def test_a_second_layer_of_the_same_name_is_missed(engine: Engine, today: Any) -> None:
    edit = "r['ruleset']['layers'].append({'name': 'general', 'sha256': ''})"
    assert "signed under rules 'general'" in changed(engine, today, edit).other[0]


# What a finding moved for

RULES = {"a.b": "rule a.b is stricter"}
GROUNDS = ("the data on argon have changed", "numpy was 1, is 2")


def move(old: dict[str, Any] | None, new: dict[str, Any] | None) -> Move:
    plain = {"criterion": "a.b", "status": "ok", "value": 1.0, "grade": "tolerable"}
    sides = [None if side is None else {**plain, **side} for side in (old, new)]
    return Move("worse", ("plan",), *sides)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ({"value": 1.0}, {"value": 1.1}),
        ({"value": 1.0}, {"value": None}),
        ({"value": 1.0}, {"value": "inf"}),
        ({"status": "ok"}, {"status": "estimated"}),
    ],
)
def test_a_number_that_moved_may_have_moved_for_everything(
    old: dict[str, Any], new: dict[str, Any]
) -> None:
    assert Since((), (), RULES, GROUNDS).because(move(old, new)) == (RULES["a.b"], *GROUNDS)
    assert Since((), (), {}, GROUNDS).because(move(old, new)) == GROUNDS


@pytest.mark.parametrize("value", [1.0, 0.0, None, "inf", "-inf"])
def test_a_number_that_stayed_moved_for_its_rule(value: Any) -> None:
    stayed = move({"value": value}, {"value": value})
    assert Since((), (), RULES, GROUNDS).because(stayed) == (RULES["a.b"],)
    assert Since((), (), {}, GROUNDS).because(stayed) == GROUNDS


def test_a_rule_of_another_criterion_is_no_cause() -> None:
    assert Since((), (), {"c.d": "rule c.d is new"}, ()).because(move({}, {"value": 2.0})) == ()


@pytest.mark.parametrize("side", ["old", "new"])
def test_a_finding_that_came_or_went_with_its_rule(side: str) -> None:
    came = move(None, {}) if side == "new" else move({}, None)
    assert Since((), (), RULES, GROUNDS).because(came) == (RULES["a.b"],)
    assert Since((), (), {}, GROUNDS).because(came) == GROUNDS
