"""A liquid that a flow lets into a vessel is poured there, as one that no flow brings."""

import pytest

from review import loads
from review.reference.finding import Reference
from review.walk.reactions import parse_equation
from tests.practice.setups import set_ups
from tests.support import shared_engine

SHAKEN = "caffeine shaken out of tea with ethyl acetate"
ALONE = {
    "flows:\n  add:\n    reagent: solvent\n    into: funnel\n    rate: 30 mL/min\n": "",
    "  flows:\n    add: 'on'\n": "",
    "  flows:\n    add: 'off'\n": "",
}


def _text(name: str) -> str:
    return next(each.text for each in set_ups() if each.name == name)


def _without_flow(text: str) -> str:
    for old, new in ALONE.items():
        assert old in text, text
        text = text.replace(old, new)
    return text


def test_said_with_a_flow_and_without_it_is_the_same() -> None:
    engine, text = shared_engine(), _text(SHAKEN)
    with_flow, without = (engine.review(loads(t, "x.yaml")) for t in (text, _without_flow(text)))
    found = [
        {(f.criterion, f.at, f.of, f.grade) for f in review.findings}
        for review in (with_flow, without)
    ]
    assert found[0] == found[1]
    assert with_flow.verdict == without.verdict


def test_a_bottle_that_a_flow_empties_is_not_told_as_one_that_nobody_places() -> None:
    text = _text(f"{SHAKEN}: the water run into strong sulfuric acid")
    assert "nothing says where" not in repr(shared_engine().review(loads(text, "x.yaml")).findings)


@pytest.mark.parametrize("between", ["*", "·", "."])
def test_a_hydrate_marked_solid_keeps_its_water(between: str) -> None:
    terms = parse_equation(f"CuSO4{between}5H2O(s) -> CuSO4(s) + 5 H2O", Reference())
    assert [t.coefficient for t in terms] == [-1.0, 1.0, 5.0]


def test_two_gases_made_in_one_vessel_are_both_judged() -> None:
    text = _text("oxygen from dilute peroxide dropped on manganese dioxide")
    other = """
  steam: {state: gas, composition: {water: 100 %}, held: {as: generator, rate: 1 mL/min,
    equation: 2 H2O2 -> 2 H2O + O2, limited_by: dropping funnel}}
"""
    text = text.replace("reagents:\n", f"reagents:{other}", 1).replace(
        "flows:\n", "flows:\n  steam: {reagent: steam, into: flask, rate: 1 mL/min}\n", 1
    )
    assert "could not do its work" not in repr(shared_engine().review(loads(text, "x.yaml")))
