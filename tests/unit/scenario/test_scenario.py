"""The example scenario: words stay words, every number is found by its path, places are kept."""

from __future__ import annotations

import hashlib
from pathlib import Path
from random import Random
from typing import get_type_hints

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from review.scenario import InputError, Scenario, json_schema, load, loads, numbers, units
from review.scenario.models import Dim, ItemModel, Reagent

EXAMPLE = Path(__file__).with_name("example.yaml")
TEXT = EXAMPLE.read_text(encoding="utf-8")
MINIMAL = "title: t\ntrain:\n- {id: a, kind: line}\n"


def test_words_that_yaml_would_change_stay_text() -> None:
    scenario = loads(
        "title: 1:30\npurpose: on\nprepared_by: 007\ntrain:\n- {id: no, kind: off}\n"
        "reagents:\n  NO: {state: gas, composition: {NO: 10 %, N: rest}}\n"
    )
    assert (scenario.title, scenario.purpose, scenario.prepared_by) == ("1:30", "on", "007")
    assert (scenario.train[0].id, scenario.train[0].kind) == ("no", "off")
    assert scenario.reagents["NO"].composition == {"NO": 0.1, "N": 0.9}


def test_the_example_loads_with_its_path_and_hash() -> None:
    scenario = load(EXAMPLE)
    assert scenario.path == str(EXAMPLE)
    assert scenario.text_sha256 == hashlib.sha256(EXAMPLE.read_bytes()).hexdigest()
    assert loads(TEXT) == loads(TEXT)


def test_upstream_defaults_to_the_previous_item() -> None:
    scenario = load(EXAMPLE)
    assert [(item.id, item.from_) for item in scenario.train] == [
        ("inlet", []),
        ("feed hose", ["inlet"]),
        ("tube", ["feed hose"]),
        ("bottle", ["tube"]),
        ("outlet", ["bottle"]),
    ]


def test_numbers_of_the_example() -> None:
    # Definitions of the units only; 0 degC = 273.15 K, 1 atm = 101325 Pa, gauge from 1 atm.
    litre_per_min = 1e-3 / 60
    expected = {
        "operators": 1.0,
        "duration": 5700.0,
        "ambient.temperature": 293.15,
        "ambient.pressure": 101325.0,
        "reagents.forming gas.composition.hydrogen": 0.05,
        "reagents.forming gas.composition.argon": 0.95,
        "reagents.forming gas.held.volume": 0.01,
        "reagents.forming gas.held.pressure": 15101325.0,
        "reagents.forming gas.held.regulator": 121325.0,
        "reagents.argon.composition.argon": 1.0,
        "reagents.argon.held.volume": 0.01,
        "reagents.argon.held.pressure": 15101325.0,
        "reagents.argon.held.regulator": 121325.0,
        "reagents.copper oxide.composition.copper oxide": 1.0,
        "reagents.copper oxide.amount": 0.005,
        "flows.forming gas feed.rate": 0.2 * litre_per_min,
        "flows.forming gas feed.reference.temperature": 293.15,
        "flows.forming gas feed.reference.pressure": 101325.0,
        "flows.forming gas feed.instrument.calibration_temperature": 293.15,
        "flows.forming gas feed.instrument.calibration_pressure": 101325.0,
        "flows.forming gas feed.instrument.gas_temperature": 293.15,
        "flows.forming gas feed.instrument.gas_pressure": 101325.0,
        "flows.forming gas feed.accuracy": 0.1,
        "flows.forming gas feed.at_most": 3 * litre_per_min,
        "flows.forming gas feed.shut_off_pressure": 121325.0,
        "flows.argon feed.rate": 0.3 * litre_per_min,
        "flows.argon feed.reference.temperature": 273.15,
        "flows.argon feed.reference.pressure": 101325.0,
        "flows.argon feed.at_most": 3 * litre_per_min,
        "train.inlet.gas_volume": 5e-6,
        "train.inlet.rating": 151325.0,
        "train.feed hose.inner_diameter": 0.006,
        "train.feed hose.wall": 0.002,
        "train.feed hose.length": 0.8,
        "train.tube.inner_diameter": 0.02,
        "train.tube.wall": 0.002,
        "train.tube.length": 0.6,
        "train.tube.heated_length": 0.25,
        "train.tube.flat_end_thickness": 0.003,
        "train.tube.packing.voidage": 0.9,
        "train.tube.packing.particle_diameter": 0.003,
        "train.tube.packing.length": 0.1,
        "train.tube.reactions.0.conversion": 0.8,
        "train.tube.reactions.0.selectivity": 1.0,
        "train.bottle.liquid_volume": 1e-4,
        "train.bottle.gas_volume": 1.5e-4,
        "train.bottle.inner_diameter": 0.06,
        "train.bottle.dip_depth": 0.04,
        "train.bottle.dip_tube_bore": 0.006,
        "train.bottle.lift": 0.15,
        "train.bottle.absorbs.hydrogen chloride.efficiency": 0.95,
        "train.bottle.absorbs.hydrogen chloride.capacity": 0.5,
        "heat.furnace.set_temperature": 573.15,
        "heat.furnace.hottest": 593.15,
        "heat.furnace.cooling_time": 2400.0,
        "catalysts.nickel on alumina.mass": 0.002,
        "catalysts.nickel on alumina.light_off": 423.15,
        "ventilation.room_volume": 60.0,
        "ventilation.air_changes": 4 / 3600,
        "ventilation.mixing_factor": 3.0,
        "ventilation.hood.opening_width": 1.2,
        "ventilation.hood.opening_height": 0.4,
        "ventilation.hood.face_velocity": 0.5,
        "procedure.purge.duration": 600.0,
        "procedure.heat.duration": 1200.0,
        "procedure.run.duration": 1800.0,
        "procedure.run.flows.forming gas feed": 0.15 * litre_per_min,
        "procedure.cool.duration": 2400.0,
        "intent.contact_time.least": 1.0,
        "intent.contact_time.most": 10.0,
    }
    assert numbers(load(EXAMPLE)) == pytest.approx(expected, rel=1e-12)


def test_only_the_ambient_is_assumed() -> None:
    # 20 degC and 1 atm: the format's stated defaults.
    assert numbers(loads(MINIMAL)) == {
        "ambient.temperature": 293.15,
        "ambient.pressure": 101325.0,
    }


@pytest.mark.parametrize(
    ("reference", "condition"),
    [
        ("normal", (273.15, 101325.0)),
        ("standard", (293.15, 101325.0)),
        ("ambient", (283.15, 90000.0)),
        ("{temperature: 25 degC, pressure: 1 bar absolute}", (298.15, 1e5)),
    ],
)
def test_reference_condition_of_a_flow(reference: str, condition: tuple[float, float]) -> None:
    scenario = loads(
        MINIMAL + "ambient: {temperature: 10 degC, pressure: 0.9 bar absolute}\n"
        "reagents: {argon: {state: gas, composition: {argon: 100 %}}}\n"
        "flows:\n  feed: {reagent: argon, into: a, rate: 1 L/min, reference: "
        f"{reference}}}\n"
    )
    assert scenario.reference("feed") == pytest.approx(condition)


@pytest.mark.parametrize(
    ("gas", "rate", "degrees"),
    [("hydrogen", "1 L/min", 0), ("argon", "1 L/min", 20), ("argon", "1 slm", 0),
     ("Druckluft", "60 L/h", 20)],
)  # fmt: skip
def test_a_condition_that_is_not_stated_is_the_hazardous_one(
    gas: str, rate: str, degrees: float
) -> None:
    """Most of what burns or poisons, least of what purges; a unit may say it."""
    scenario = loads(
        MINIMAL + f"reagents: {{x: {{state: gas, composition: {{{gas}: 100 %}}}}}}\n"
        f"flows:\n  feed: {{reagent: x, into: a, rate: {rate}}}\n"
    )
    assert scenario.reference("feed") == pytest.approx((273.15 + degrees, 101325.0))


@pytest.mark.parametrize(
    ("gas", "room", "condition"),
    [("nitrogen", "pressure: 0.75 bar absolute", (293.15, 75000.0)),
     ("nitrogen gas", "temperature: 35 degC", (308.15, 101325.0)),
     ("hydrogen", "pressure: 0.75 bar absolute", (273.15, 101325.0)),
     ("hydrogen", "temperature: -10 degC", (263.15, 101325.0)),
     ("nitrogen", "temperature: 10 degC", (293.15, 101325.0))],
)  # fmt: skip
def test_a_condition_that_is_not_stated_is_the_rooms_where_that_is_worse(
    gas: str, room: str, condition: tuple[float, float]
) -> None:
    """A litre on a mountain purges less than one at 1 atm."""
    scenario = loads(
        MINIMAL + f"reagents: {{x: {{state: gas, composition: {{{gas}: 100 %}}}}}}\n"
        f"flows:\n  feed: {{reagent: x, into: a, rate: 1 L/min}}\nambient: {{{room}}}\n"
    )
    assert scenario.reference("feed") == pytest.approx(condition)


@pytest.mark.parametrize(
    ("said", "senses"),
    [("methane detector", "methane"), ("{kind: CO alarm, alarm: 30 ppm}", "CO"),
     ("{kind: oxygen monitor, senses: O2}", "O2"), ("gas alarm", None)],
)  # fmt: skip
def test_a_detector_called_by_its_gas_senses_it(said: str, senses: str | None) -> None:
    (safeguard,) = loads(MINIMAL + f"safeguards: [{said}]\n").safeguards
    assert (safeguard.kind, safeguard.senses) == ("detector", senses)


@pytest.mark.parametrize("said", ["flow alarm", "level sensor", "flame monitor"])
def test_what_else_gives_alarm_is_no_detector(said: str) -> None:
    (safeguard,) = loads(MINIMAL + f"safeguards: [{said}]\n").safeguards
    assert safeguard.kind != "detector" and safeguard.senses is None


@pytest.mark.parametrize(
    ("state", "basis"), [("gas", "mole"), ("liquid", "mass"), ("solid", "mass")]
)
def test_basis_follows_the_state(state: str, basis: str) -> None:
    scenario = loads(f"{MINIMAL}reagents: {{x: {{state: {state}, composition: {{x: 1}}}}}}\n")
    assert scenario.reagents["x"].basis == basis


def test_one_alias_stands_for_the_same_text_at_both_places() -> None:
    scenario = loads(
        "title: t\ntrain:\n- {id: a, kind: line, packing: &p {voidage: 40 %}}\n"
        "- {id: b, kind: line, packing: *p}\n"
    )
    assert [item.packing.voidage for item in scenario.train if item.packing] == [0.4, 0.4]


@pytest.mark.parametrize(
    "path", [("train", 2, "length"), ("train", "tube", "length"), "train.tube.length"]
)
def test_a_later_stage_can_name_the_place(path: tuple[str | int, ...] | str) -> None:
    line = next(i for i, row in enumerate(TEXT.splitlines(), 1) if "600 mm" in row)
    problem = load(EXAMPLE).problem(path, "too long", "shorter")
    assert str(problem) == f"{EXAMPLE}:{line}:13: too long (did you mean 'shorter'?)"
    assert problem.text == "600 mm"


def test_a_path_that_is_not_in_the_file_gives_the_enclosing_place() -> None:
    scenario = loads(MINIMAL)
    assert str(scenario.problem("train.a.length", "needed")) == "<text>:3:3: needed"
    reaction = "title: t\ntrain:\n- id: a\n  kind: reactor\n  reactions:\n  - equation: A -> B\n"
    scenario = loads(reaction + "    limiting: A\n    conversion: 1\n")
    problem = scenario.problem("train.a.reactions.0.equation", "does not balance")
    assert str(problem) == "<text>:6:15: does not balance"


def test_schema_describes_every_field_with_a_unit() -> None:
    schema = json_schema()
    properties = schema["$defs"]["ItemModel"]["properties"]
    seen = 0
    for name, hint in get_type_hints(ItemModel, include_extras=True).items():
        if "Dim(dimension" in repr(hint) and name in properties and "dict" not in repr(hint):
            shown = properties[name]
            assert shown["description"], name
            assert shown["examples"], name
            seen += 1
    assert seen > 15
    assert schema["required"] == ["title", "train"]
    assert schema["additionalProperties"] is False
    assert '"null"' not in repr(schema).replace("'", '"')


def test_every_example_in_the_schema_is_accepted() -> None:
    for dimension in units.SPECS:
        spec = units.SPECS[dimension]
        assert Dim(dimension).read(spec.example) is not None


_PIECES = st.sampled_from(
    [
        ":",
        "-",
        "{",
        "}",
        "[",
        "]",
        "&a ",
        "*a",
        "!x ",
        "\n",
        "  ",
        "#",
        "'",
        '"',
        "|",
        "?",
        "%",
        ",",
    ]
    + ["%", "nan", "-1", "1e400", "0", "on", "null", "~", "<<: ", "---\n", "\t", "\0", "\x1b", "é"]
    + ["bar", "degC", "°", "train:", "id: tube", "from: [outlet]", "wt%", "**9", ".", "\ud800"]
)
_CUTS = st.tuples(st.integers(0, len(TEXT)), st.integers(0, 12), _PIECES | st.text(max_size=5))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(_CUTS, min_size=1, max_size=4))
def test_no_mutation_of_a_file_raises_anything_but_an_input_error(
    cuts: list[tuple[int, int, str]],
) -> None:
    text = TEXT
    for start, length, piece in cuts:
        text = text[:start] + piece + text[start + length :]
    try:
        scenario = loads(text)
    except InputError as error:
        assert error.problems
        breaks = text.count("\n") + text.count("\r")
        assert all(p.line <= breaks + 2 for p in error.problems)
        assert "\x1b" not in str(error)
    else:
        assert isinstance(scenario, Scenario)
        assert numbers(scenario)


_LINES = st.lists(st.integers(0, TEXT.count("\n")), min_size=1, max_size=5)


@settings(max_examples=80, deadline=None)
@given(_LINES, st.randoms(use_true_random=False))
def test_no_shuffling_of_lines_raises_anything_but_an_input_error(
    lines: list[int], random: Random
) -> None:
    rows = TEXT.splitlines()
    for line in lines:
        at = line % len(rows)
        if random.random() < 0.5:
            rows.pop(at)
        else:
            rows.insert(at, rows[random.randrange(len(rows))])
    try:
        assert numbers(loads("\n".join(rows)))
    except InputError as error:
        assert error.problems


@pytest.mark.parametrize(
    ("state", "said", "held"),
    [("gas", "bottle", "cylinder"), ("liquid", "bottle", "bottle"), ("gas", "gas tap", "mains")],
)
def test_a_gas_in_a_bottle_stands_in_a_cylinder(state: str, said: str, held: str) -> None:
    """In the trade's words; a house line is no cylinder that can be let go whole."""
    given = {"state": state, "composition": {"methane": "100 %"}, "held": {"as": said}}
    found = Reagent.model_validate(given).held
    assert found is not None and found.as_ == held
