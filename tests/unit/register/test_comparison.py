"""Two scenarios field by field, and two lists of findings, in words."""

from __future__ import annotations

import copy
import json
import random
from pathlib import Path
from typing import Any

import pytest
import yaml

from review.interface.plugin import Kind
from review.register.comparison import (
    alike,
    move_in_words,
    moves,
    moves_in_words,
    scenario_changes,
)
from review.scenario import InputError

DEMOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))
BASE: dict[str, Any] = {
    "title": "A try",
    "reagents": {
        "argon": {"state": "gas", "composition": {"argon": "100 %"}},
        "mix": {"state": "gas", "composition": {"hydrogen": "5 %", "argon": "95 %"}},
    },
    "flows": {
        "mix feed": {"reagent": "mix", "into": "hose", "rate": "200 mL/min",
                     "reference": "standard"},
    },
    "train": [
        {"id": "hose", "kind": "line", "material": "PTFE", "inner_diameter": "4 mm",
         "wall": "1 mm", "length": "1 m", "joint": "none"},
        {"id": "trap", "kind": "trap", "gas_volume": "50 mL"},
        {"id": "tube", "kind": "reactor", "length": "600 mm",
         "reactions": [{"equation": "2 H2 + O2 -> 2 H2O", "limiting": "hydrogen",
                        "conversion": "50 %"}]},
        {"id": "out", "kind": "outlet", "to": "hood"},
    ],
    "procedure": [
        {"step": "purge", "duration": "10 min"},
        {"step": "heat", "duration": "20 min"},
        {"step": "run", "duration": "30 min", "flows": {"mix feed": "on"}},
    ],
    "safeguards": [
        {"kind": "spectacles"},
        {"kind": "detector", "senses": "hydrogen", "alarm": "0.4 %"},
        {"kind": "detector", "senses": "oxygen", "alarm": "19 %"},
    ],
}  # fmt: skip


def text(data: dict[str, Any]) -> str:
    return str(yaml.safe_dump(data, sort_keys=False))


def said(old: dict[str, Any], new: dict[str, Any]) -> list[str]:
    return [change.words for change in scenario_changes(text(old), text(new))]


def edited(edit: str) -> dict[str, Any]:
    """The base after one statement that calls it `s`."""
    s = copy.deepcopy(BASE)
    exec(edit, {"s": s})
    return s


@pytest.mark.parametrize(
    ("edit", "expected"),
    [
        ("s['train'][2]['length'] = '500 mm'", ["train.tube.length was 600 mm, is 500 mm"]),
        ("s['title'] = 'Another try'", ["title was A try, is Another try"]),
        (
            "s['flows']['hydrogen feed'] = dict(s['flows']['mix feed'])",
            ["flow hydrogen feed was added"],
        ),
        ("del s['train'][1]", ["item trap is gone"]),
        ("del s['reagents']['argon']", ["reagent argon is gone"]),
        ("s['procedure'].insert(3, s['procedure'].pop(1))", ["step heat now comes after step run"]),
        ("s['procedure'].insert(0, s['procedure'].pop(2))", ["step run now comes first"]),
        ("s['train'].insert(0, s['train'].pop(1))", ["item hose now comes after item trap"]),
        (
            "s['train'][1]['material'] = 'borosilicate glass 3.3'",
            ["train.trap.material was not given, is borosilicate glass 3.3"],
        ),
        ("del s['train'][0]['wall']", ["train.hose.wall was 1 mm, is no longer given"]),
        (
            "s['train'][2]['from'] = ['hose', 'trap']",
            ["train.tube.from was not given, is hose and trap"],
        ),
        (
            "s['train'][2]['reactions'][0]['conversion'] = '60 %'",
            ["train.tube.reactions.0.conversion was 50 %, is 60 %"],
        ),
        (
            "s['procedure'][2]['flows']['mix feed'] = '50 mL/min'",
            ["procedure.run.flows.mix feed was on, is 50 mL/min"],
        ),
        (
            "s['reagents']['mix']['composition'] = {'hydrogen': '10 %', 'argon': '90 %'}",
            [
                "reagents.mix.composition.hydrogen was 5 %, is 10 %",
                "reagents.mix.composition.argon was 95 %, is 90 %",
            ],
        ),
        (
            "s['ventilation'] = {'room_volume': '60 m3', 'hood': {'tested': 'yes'}}",
            [
                "ventilation.room_volume was not given, is 60 m3",
                "ventilation.hood.tested was not given, is yes",
            ],
        ),
        (
            "s['frame'] = {'feet': {'left': {'x': '0 m', 'y': '0 m'}}}",
            ["foot left was added"],
        ),
        (
            "del s['procedure']",
            ["step purge is gone", "step heat is gone", "step run is gone"],
        ),
        ("del s['safeguards'][0]", ["safeguard spectacles is gone"]),
        (
            "s['safeguards'][2]['alarm'] = '18 %'",
            ["safeguards.detector.alarm was 19 %, is 18 %"],
        ),
        ("s['safeguards'].append(dict(kind='gloves'))", ["safeguard gloves was added"]),
        ("s['safeguards'].reverse()", ["safeguards stand in another order"]),
        (
            "s['train'][0]['reactions'] = []",
            ["train.hose.reactions was not given, is empty, which is the same"],
        ),
        ("s['intent'] = {}", ["intent was not given, is empty"]),
        (
            "s['train'][1]['id'] = 'cold trap'",
            ["item trap is gone", "item cold trap was added"],
        ),
    ],
)  # fmt: skip
def test_a_change_is_told_in_words(edit: str, expected: list[str]) -> None:
    assert said(BASE, edited(edit)) == expected


def test_several_changes_are_all_told() -> None:
    new = edited("del s['train'][1]; s['title'] = 'B'; s['procedure'][0]['duration'] = '5 min'")
    assert said(BASE, new) == [
        "title was A try, is B",
        "item trap is gone",
        "procedure.purge.duration was 10 min, is 5 min",
    ]


@pytest.mark.parametrize("demo", DEMOS, ids=lambda path: path.stem)
def test_comments_and_layout_are_no_change(demo: Path) -> None:
    old = demo.read_text("utf-8")
    assert scenario_changes(old, f"# checked\n{old}\n\n") == ()
    assert scenario_changes(old, text(yaml.load(old, yaml.BaseLoader))) == ()


@pytest.mark.parametrize(
    "new",
    [
        "s['train'][2]['length'] = '0.6 m'",
        "s['train'][2]['length'] = '60 cm'",
        "s['train'][2]['home_made'] = 'unknown'",
        "s['train'][2]['from'] = 'trap'",
        "s['ambient'] = {'temperature': '20 degC'}",
        "s['flows']['mix feed']['reference'] = {'temperature': '20 degC', 'pressure': '1 atm'}",
        "s['reagents']['mix']['composition']['argon'] = 'rest'",
    ],
)
def test_what_means_the_same_is_told_and_called_the_same(new: str) -> None:
    [change] = scenario_changes(text(BASE), text(edited(new)))
    assert change.same
    assert change.words.endswith(", which is the same")


@pytest.mark.parametrize(
    "new",
    [
        "s['train'][2]['length'] = '600.001 mm'",
        "s['train'][2]['home_made'] = 'no'",
        "s['train'][2]['from'] = 'hose'",
        "s['flows']['mix feed']['reference'] = 'normal'",
        "s['flows']['mix feed']['rate'] = '200 mol/min'",
        "s['train'][2]['lenght'] = '600 mm'",
    ],
)
def test_what_does_not_mean_the_same_is_not_called_the_same(new: str) -> None:
    changes = scenario_changes(text(BASE), text(edited(new)))
    assert changes
    assert not any(change.same for change in changes)


def test_long_texts_show_where_they_differ() -> None:
    old, new = (
        edited("s['purpose'] = 'x' * 500 + 'old'"),
        edited("s['purpose'] = 'x' * 500 + 'new'"),
    )
    [words] = said(old, new)
    assert len(words) < 300
    assert "old" in words
    assert "new" in words


def test_blanks_alone_are_told_apart() -> None:
    new = edited("s['title'] = 'A  try'")
    assert said(BASE, new) == ["title differs only in its blanks"]


def test_what_is_no_yaml_is_wrong_input() -> None:
    with pytest.raises(InputError):
        scenario_changes(text(BASE), "title: [")


@pytest.mark.parametrize("start", range(40))
def test_any_edited_value_is_told_with_its_place_and_both_texts(start: int) -> None:
    """One value of a demo, chosen at random, becomes another text."""
    chance = random.Random(start)
    old = yaml.load(chance.choice(DEMOS).read_text("utf-8"), yaml.BaseLoader)
    new = copy.deepcopy(old)
    leaves = [(p, k) for p, k in _leaves(new) if k not in ("id", "step", "kind")]
    part, key = chance.choice(leaves)
    before = part[key]
    part[key] = "something else"
    told = said(old, new)
    assert len(told) == 1
    assert "something else" in told[0]
    assert isinstance(key, int) or f".{key} " in f".{told[0]}"
    assert " ".join(before.split())[:50] in told[0]


def _leaves(data: Any) -> list[tuple[Any, Any]]:
    pairs = data.items() if isinstance(data, dict) else enumerate(data)
    found: list[tuple[Any, Any]] = []
    for key, value in pairs:
        found += [(data, key)] if isinstance(value, str) else _leaves(value)
    return found


# Findings


def finding(grade: str, **fields: Any) -> dict[str, Any]:
    plain = {"criterion": "ignition.hot_surface", "kind": "a.share", "at": "tube", "of": "",
             "case": "plan", "value": 0.4, "limit": 0.5}  # fmt: skip
    return {**plain, "grade": grade, **fields}


@pytest.mark.parametrize(
    ("old", "new", "direction"),
    [
        ("acceptable", "tolerable", "worse"),
        ("tolerable", "undetermined", "worse"),
        ("undetermined", "unacceptable", "worse"),
        ("acceptable", "undetermined", "worse"),
        ("unacceptable", "acceptable", "better"),
        ("undetermined", "tolerable", "better"),
        (None, "tolerable", "new"),
        ("tolerable", None, "gone"),
    ],
)
def test_the_direction_of_a_move(old: str | None, new: str | None, direction: str) -> None:
    [move] = moves(*([finding(grade)] if grade else [] for grade in (old, new)))
    assert move.direction == direction
    assert move.grade == (new or old)
    assert move.matters


@pytest.mark.parametrize("grade", ["acceptable", "tolerable", "undetermined", "unacceptable"])
def test_what_did_not_move_is_not_told(grade: str) -> None:
    assert moves([finding(grade)], [finding(grade, value=0.45)]) == ()


def test_a_new_finding_that_is_acceptable_takes_nothing_back() -> None:
    [move] = moves([], [finding("acceptable")])
    assert not move.matters


def test_the_most_serious_come_first() -> None:
    pairs = [
        ("better", "tolerable", "acceptable"),
        ("new.fine", None, "acceptable"),
        ("gone", "acceptable", None),
        ("corrosion.worse", "acceptable", "unacceptable"),
        ("ignition.worse", "acceptable", "unacceptable"),
        ("undetermined", "acceptable", "undetermined"),
        ("new", None, "tolerable"),
    ]
    found = moves(
        [finding(old, criterion=name) for name, old, _ in pairs if old],
        [finding(new, criterion=name) for name, _, new in pairs if new],
    )
    assert [move.criterion for move in found] == [
        "ignition.worse", "corrosion.worse", "undetermined", "new", "gone", "better", "new.fine",
    ]  # fmt: skip


def test_cases_that_moved_alike_are_one_move() -> None:
    old = [finding("acceptable", case=case) for case in ("upset", "plan", "step")]
    new = [finding("tolerable", case=case) for case in ("plan", "step")]
    first, second = moves(old, [*new, finding("unacceptable", case="upset")])
    assert (first.cases, second.cases) == (("upset",), ("plan", "step"))


def test_a_place_or_a_subject_of_its_own_is_a_finding_of_its_own() -> None:
    old = [finding("acceptable"), finding("tolerable", at="hose"), finding("acceptable", of="CO")]
    assert moves(old, old[::-1]) == ()
    assert len(moves(old, [{**each, "grade": "unacceptable"} for each in old])) == 3


def test_findings_that_nothing_tells_apart_are_counted() -> None:
    """Each check that fails gives one; a second one is new."""
    one = finding("undetermined", criterion="check.failed", at="")
    [move] = moves([one], [one, one])
    assert move.direction == "new"


SHARE = Kind("a.share", "Share", "higher", "", "%", "m", "s", "v")


def test_a_move_in_words() -> None:
    [move] = moves([finding("acceptable")], [finding("tolerable", limit=0.3)])
    assert move_in_words(move, {"ignition.hot_surface": "Hot surface"}, {"a.share": SHARE}) == (
        "Hot surface (ignition.hot_surface) was acceptable, is tolerable at the stated settings: "
        "at tube (value 40 % as before; limit was 50 %, is 30 %)"
    )


def test_moves_that_differ_only_in_their_place_are_one_sentence() -> None:
    old = [finding("acceptable", at=at) for at in ("hose", "inlet", "tube")]
    new = [finding("tolerable", at="hose"), finding("tolerable", at="inlet")]
    found = moves(old, [*new, finding("tolerable", at="tube", value=0.45)])
    [same] = alike(found)
    assert moves_in_words(same, {}, {"a.share": SHARE}) == (
        "ignition.hot_surface was acceptable, is tolerable at the stated settings: at hose and at "
        "inlet (value 40 % as before; limit 50 % as before); at tube (value was 40 %, is 45 %; "
        "limit 50 % as before)"
    )


def test_moves_that_differ_in_more_are_sentences_of_their_own() -> None:
    old = [finding("acceptable", at="hose"), finding("tolerable", at="tube")]
    new = [finding("undetermined", at="hose"), finding("undetermined", at="tube")]
    assert len(tuple(alike(moves(old, new)))) == 2


def test_numbers_are_told_with_as_many_digits_as_tell_them_apart() -> None:
    [move] = moves([finding("acceptable", value=0.4)], [finding("tolerable", value=0.40001)])
    assert "value was 40 %, is 40.001 %" in move_in_words(move, {}, {"a.share": SHARE})


def test_moves_without_a_number_a_place_or_a_title() -> None:
    old = finding("acceptable", at="", of="carbon monoxide", value=None, limit=None, case="upset")
    [worse] = moves([old], [{**old, "grade": "undetermined"}])
    assert move_in_words(worse, {}, {"a.share": SHARE}) == (
        "ignition.hot_surface was acceptable, is undetermined after a single failure: of carbon "
        "monoxide"
    )
    [gone] = moves([old], [])
    assert "was acceptable, is not judged any more after a single" in move_in_words(gone, {})
    [new] = moves([], [{**old, "of": ""}])
    assert move_in_words(new, {}) == (
        "ignition.hot_surface is new and acceptable after a single failure"
    )


def test_infinite_numbers_of_the_json_form_are_read() -> None:
    old = finding("acceptable", value="inf", limit=None)
    [move] = moves([old], json.loads(json.dumps([{**old, "grade": "tolerable", "value": None}])))
    assert "value was unlimited, is not known" in move_in_words(move, {}, {"a.share": SHARE})
