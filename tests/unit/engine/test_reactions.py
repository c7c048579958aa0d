"""Reading and balancing of reaction equations; the elements are counted here on their own."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from review import ItemView, loads, react
from review.interface.items import Reaction
from review.reference.finding import Reference
from review.walk.reactions import parse_equation

READ = {
    "formulas": ("2 H2 + O2 -> 2 H2O", {"hydrogen": -2, "oxygen": -1, "water": 2}),
    "names": ("2 hydrogen + oxygen -> 2 water", {"hydrogen": -2, "oxygen": -1, "water": 2}),
    "names with spaces": (
        "2 carbon monoxide + oxygen -> 2 carbon dioxide",
        {"carbon monoxide": -2, "oxygen": -1, "carbon dioxide": 2},
    ),
    "counts without a space": (
        "CH4 + 2O2 -> CO2 + 2H2O",
        {"methane": -1, "oxygen": -2, "carbon dioxide": 1, "water": 2},
    ),
    "broken counts": ("H2 + 0.5 O2 -> H2O", {"hydrogen": -1, "oxygen": -0.5, "water": 1}),
    "nitric oxide, not a refusal": (
        "2 NO + O2 -> 2 NO2", {"nitric oxide": -2, "oxygen": -1, "nitrogen dioxide": 2},
    ),
    "an arrow of one sign": ("N2 + 3 H2 → 2 NH3", {"nitrogen": -1, "hydrogen": -3, "ammonia": 2}),
    "a known solid": ("CuO(s) + H2 -> Cu(s) + H2O", {"hydrogen": -1, "water": 1}),
    "solids without data": ("Fe3O4(s) + 4 CO -> 3 Fe(s) + 4 CO2",
                            {"carbon monoxide": -4, "carbon dioxide": 4}),
}  # fmt: skip


@pytest.mark.parametrize(("text", "gases"), READ.values(), ids=READ.keys())
def test_gases_and_their_counts(text: str, gases: dict[str, float], reference: Reference) -> None:
    terms = parse_equation(text, reference)
    found = {t.substance.name: t.coefficient for t in terms if t.substance is not None}
    assert found == gases


WRONG = {
    "oxygen lost": (
        "H2 + O2 -> H2O",
        'reaction "H2 + O2 -> H2O" is not balanced: 1 O too many on the left',
    ),
    "two elements lost": (
        "CH4 + O2 -> CO2 + H2O",
        'reaction "CH4 + O2 -> CO2 + H2O" is not balanced: '
        "2 H too many on the left, 1 O too many on the right",
    ),
    "solid counted wrong": (
        "CuO(s) + H2 -> 2 Cu(s) + H2O",
        'reaction "CuO(s) + H2 -> 2 Cu(s) + H2O" is not balanced: 1 Cu too many on the right',
    ),
    "no arrow": ("2 H2 + O2", 'reaction "2 H2 + O2" needs one "->" between its two sides'),
    "two arrows": (
        "H2 -> H2 -> H2", 'reaction "H2 -> H2 -> H2" needs one "->" between its two sides',
    ),
    "one side empty": ("H2 -> ", 'reaction "H2 -> " needs one "->" between its two sides'),
    "nobody's formula": (
        "Xx + O2 -> XxO2",
        '"Xx" in a reaction is neither a known substance nor an unambiguous formula',
    ),
    "a solid that nobody marks": (
        "H2S + MnO(s) -> MnS + H2O",
        '"MnS" in a reaction is neither a known substance nor an unambiguous formula '
        '(a solid that no data file knows is written "MnS(s)")',
    ),
    "a name nearly right": (
        "2 hydrogn + O2 -> 2 H2O",
        '"hydrogn" in a reaction is neither a known substance nor an unambiguous formula '
        "(did you mean 'hydrogen'?)",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "message"), WRONG.values(), ids=WRONG.keys())
def test_wrong_equations_say_what_is_wrong(text: str, message: str, reference: Reference) -> None:
    with pytest.raises(ValueError) as caught:
        parse_equation(text, reference)
    assert str(caught.value) == message


#: Atoms of each species (C, H, O, N), counted by hand from the formulas.
ATOMS = {
    "CH4": (1, 4, 0, 0), "O2": (0, 0, 2, 0), "CO": (1, 0, 1, 0), "CO2": (1, 0, 2, 0),
    "H2": (0, 2, 0, 0), "H2O": (0, 2, 1, 0), "N2": (0, 0, 0, 2), "NH3": (0, 3, 0, 1),
}  # fmt: skip
SPECIES = list(ATOMS)
REACTIONS = [
    ("CH4", {"CH4": -1, "O2": -2, "CO2": 1, "H2O": 2}),
    ("CH4", {"CH4": -2, "O2": -3, "CO": 2, "H2O": 4}),
    ("CO", {"CO": -1, "H2O": -1, "CO2": 1, "H2": 1}),
    ("N2", {"N2": -1, "H2": -3, "NH3": 2}),
    ("H2", {"H2": -2, "O2": -1, "H2O": 2}),
]
LINE = loads("title: t\ntrain:\n- {id: a, kind: line}\n").train[0]

share = st.floats(0, 1)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(st.one_of(st.just(0.0), st.floats(1e-6, 1.0)), min_size=8, max_size=8),
    st.lists(st.tuples(st.integers(0, 4), share, share), max_size=4),
)
def test_a_reactor_keeps_every_element(
    feed: list[float], chosen: list[tuple[int, float, float]]
) -> None:
    flow = np.array(feed)[:, None]
    view = ItemView(LINE, {}, 1, reactions=tuple(
        Reaction(
            "", SPECIES.index(REACTIONS[n][0]),
            np.array([float(REACTIONS[n][1].get(s, 0)) for s in SPECIES]),
            np.array([conversion]), np.array([selectivity]),
        )
        for n, conversion, selectivity in chosen
    ))  # fmt: skip
    out = react(view, flow)
    atoms = np.array(list(ATOMS.values())).T
    assert (out >= 0).all()
    assert atoms @ out == pytest.approx(atoms @ flow, rel=1e-12, abs=1e-14)


def test_a_reaction_takes_no_more_than_there_is() -> None:
    # 1 mol of methane and 1 of oxygen, all of the methane said to burn: oxygen is enough for half.
    flow = np.array([1.0, 1.0, 0, 0, 0, 0, 0, 0])[:, None]
    burn = np.array([float(REACTIONS[0][1].get(s, 0)) for s in SPECIES])
    full = np.array([1.0])
    view = ItemView(LINE, {}, 1, reactions=(Reaction("", 0, burn, full, full),))
    assert react(view, flow)[:, 0] == pytest.approx([0.5, 0, 0, 0.5, 0, 1.0, 0, 0])


STEPS = [
    ("C2H5OH -> C2H4 + H2O", "ethanol", 0.8),
    ("C2H4 + H2 -> C2H6", "ethylene", 0.5),
]


@pytest.mark.parametrize("order", [STEPS, STEPS[::-1]], ids=["as they run", "the other way round"])
def test_reactions_feed_on_one_another_in_any_order(walked, order) -> None:
    """1 mol of ethanol: 0.8 becomes ethylene, half of that ethane: 0.4 of each is left."""
    text = (
        "title: t\nreagents:\n  gas: {state: gas, composition: {ethanol: 50 %, hydrogen: 50 %}}\n"
        "flows: {feed: {reagent: gas, into: tube, rate: 2 mol/h}}\ntrain:\n"
        "- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm, reactions: ["
        + ", ".join(f"{{equation: {e}, limiting: {k}, conversion: {c}}}" for e, k, c in order)
        + "]}\n- {id: out, kind: outlet, to: hood}\n"
    )
    setup = walked(text)
    mix = setup.places[0].composition("outlet")[:, 0]
    found = {s.name: x / mix[[t.name for t in setup.species].index("ethanol")] * 0.2
             for s, x in zip(setup.species, mix, strict=True)}  # fmt: skip
    assert found["ethylene"] == pytest.approx(0.4)
    assert found["ethane"] == pytest.approx(0.4)
    assert found["hydrogen"] == pytest.approx(0.6)


@pytest.mark.parametrize("kind", ["junction", "trap", "line", "vessel"])
def test_a_declared_reaction_counts_wherever_it_is_said(walked, kind) -> None:
    more = "inner_diameter: 4 mm, length: 1 m" if kind == "line" else "gas_volume: 1 L"
    setup = walked(
        "title: t\nreagents: {gas: {state: gas, composition: {hydrogen: 100 %}},"
        " air: {state: gas, composition: {oxygen: 100 %}}}\n"
        "flows: {a: {reagent: gas, into: i, rate: 2 mol/h},"
        " b: {reagent: air, into: i, rate: 1 mol/h}}"
        f"\ntrain:\n- {{id: i, kind: {kind}, {more}, reactions: [{{equation: 2 H2 + O2 -> 2 H2O,"
        " limiting: hydrogen, conversion: 50 %}]}\n- {id: out, kind: outlet, to: hood}\n"
    )
    water = [s.name for s in setup.species].index("water")
    assert setup.places[0].composition("outlet")[water, 0] == pytest.approx(1 / 2.5, rel=1e-6)


WARM_AND_WET = """
title: A saturator that runs dry while the tube behind it gets hot
reagents:
  argon: {state: gas, composition: {argon: 100 %}, held: {as: cylinder}}
flows:
  carrier: {reagent: argon, into: saturator, rate: 1 L/min, reference: standard}
train:
- {id: saturator, kind: wash bottle, liquid: methanol, liquid_volume: 5 mL, gas_volume: 50 mL,
   dip_depth: 10 mm, dip_tube_bore: 4 mm}
- {id: tube, kind: reactor, inner_diameter: 20 mm, length: 500 mm,
   reactions: [{equation: CH3OH -> CO + 2 H2, limiting: methanol, conversion: 50 %}]}
- {id: out, kind: outlet, to: room, inner_diameter: 10 mm}
heat: {furnace: {heats: tube, kind: tube furnace, set_temperature: 400 degC, cooling_time: 5 min}}
ventilation: {room_volume: 60 m3, air_changes: 4 / hour}
procedure:
- {step: heat, duration: 2 h, flows: {carrier: on}, heat: {furnace: on}}
"""


def test_what_is_made_before_a_liquid_ends_is_let_out(walked) -> None:
    """Cold at the start it makes nothing, dry at the end neither; in between it makes a half."""
    setup = walked(WARM_AND_WET)
    row = [s.name for s in setup.species].index("carbon monoxide")
    tube = next(p for p in setup.places if p.id == "tube")
    assert tube.composition("outlet")[row, 1] == 0
    assert tube.composition("outlet_end")[row, 1] == 0
    assert tube.composition("outlet_middle")[row, 1] > 0.04
    methanol = [s.name for s in setup.species].index("methanol")
    assert setup.air("into_room")[row, 1] > 0.4 * setup.air("into_room")[methanol, 1] > 0


def test_parts_by_volume_of_a_liquid_are_weighed_by_their_densities(reference) -> None:
    """12 % ethanol by volume: 0.12 x 789/46.07 over 0.88 x 998/18.02 is 4.0 % by mole."""
    from review import loads
    from review.walk.names import Resolver

    text = (
        "title: wine\nreagents: {wine: {state: liquid, basis: volume, "
        "composition: {ethanol: 12 %, water: 88 %}}}\n"
        "train:\n- {id: dish, kind: vessel, liquid: wine, liquid_volume: 50 mL}\n"
        "- {id: out, kind: outlet, to: room}\n"
    )
    scenario = loads(text)
    held = Resolver(scenario, reference, {})._liquid("wine", 0)
    assert held["ethanol"] == pytest.approx(0.0405, rel=0.01)


def test_what_has_no_formula_is_no_formula_of_a_term() -> None:
    """Paraffin oil in the bubbler behind a reactor is no reason to refuse its equation."""
    reference = Reference()
    present = [reference.substance("paraffin oil"), reference.substance("hydrogen")]
    terms = parse_equation("CuO(s) + H2 -> Cu(s) + H2O", reference, present)
    assert {t.substance.name: t.coefficient for t in terms if t.substance} == {
        "hydrogen": -1.0, "water": 1.0,
    }  # fmt: skip
