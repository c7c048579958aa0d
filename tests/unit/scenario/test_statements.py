"""Words that stand for a whole section, and values the file calls assumed."""

from __future__ import annotations

import pytest

from review.scenario import InputError, json_schema, loads

BENCH = """
title: a line
train:
  - {id: tube, kind: line, inner_diameter: 6 mm, length: 1 m, in: hood%s}
  - {id: outlet, kind: outlet, to: hood}
procedure:
  - {step: wait, duration: 1 min}
"""


def test_a_word_for_a_section_is_a_statement_and_leaving_it_out_is_none():
    plain = loads(BENCH % "")
    stated = loads(
        BENCH % ", reactions: none"
        + "frame: stands by itself on the bench\nignition_sources: none in the room\n"
    )
    assert (stated.stands_by_itself, stated.nothing_ignites) == (True, True)
    assert (plain.stands_by_itself, plain.nothing_ignites) == (False, False)
    assert stated.frame is None and stated.ignition_sources == {}
    assert stated.train[0].reactions.stated_none
    assert not plain.train[0].reactions.stated_none
    assert not loads(BENCH % ", reactions: []").train[0].reactions.stated_none


@pytest.mark.parametrize("path", ["train.tube.length", "train.tube", "procedure.wait.duration"])
def test_an_assumed_value_is_known_by_its_path(path):
    scenario = loads(BENCH % "" + f"assumed: [{path}]\n")
    assert scenario.is_assumed(path)
    assert scenario.is_assumed("train.tube.length") == path.startswith("train.tube")
    assert not scenario.is_assumed("train.tube 2.length")


def test_an_assumption_about_nothing_is_an_error_with_the_nearest_path():
    with pytest.raises(InputError, match=r"train\.tube\.length"):
        loads(BENCH % "" + "assumed: [train.tube.lenght]\n")


def test_the_schema_knows_the_words():
    properties = json_schema()["properties"]
    assert {"const": "none in the room"} in properties["ignition_sources"]["anyOf"]
    assert {"const": "stands by itself on the bench"} in properties["frame"]["anyOf"]


def test_a_file_may_say_that_it_has_none_of_a_section():
    said = "flows: none\nheat: none\nsafeguards: none\ncatalysts: none\nlook_for: none\n"
    plain, none = loads(BENCH % ""), loads(BENCH % ", liquid: none, relief: none" + said)
    assert none.model_dump() == plain.model_dump()
    assert {"const": "none"} in json_schema()["properties"]["flows"]["anyOf"]
    with pytest.raises(InputError, match="expected a list"):
        loads(BENCH.replace("train:", "procedure: none\ntrain:").split("procedure:\n")[0])


def test_a_word_in_place_of_a_mapping_is_told_what_the_mapping_looks_like():
    like = r"such as relief: \{opens_at: .* bar gauge, bore: .* mm\}"
    with pytest.raises(InputError, match=like):
        loads(BENCH % ", relief: thistle funnel")


@pytest.mark.parametrize("word", ["flask", "jar", "burette"])
def test_a_liquid_stands_in_a_bottle_by_whatever_word_and_a_gas_does_not(word):
    reagent = "reagents: {x: {state: %s, composition: water, held: {as: %s}}}\n"
    held = loads(BENCH % "" + reagent % ("liquid", word)).reagents["x"].held
    assert held is not None and held.as_ == "bottle"
    with pytest.raises(InputError, match="unknown word"):
        loads(BENCH % "" + reagent % ("gas", word))


def test_a_liquid_in_open_ware_is_poured_into_an_item_or_evaporates_where_it_stands():
    reagent = "reagents: {x: {state: %s, composition: water, held: {as: beaker}}}\n"
    for said, state in ((", liquid: x", "liquid"), ("", "solid")):
        held = loads(BENCH % said + reagent % state).reagents["x"].held
        assert held is not None and held.as_ == "bottle"
    for said, state in (("", "liquid"), (", liquid: x", "gas")):
        with pytest.raises(InputError, match="unknown word"):
            loads(BENCH % said + reagent % state)
