"""Flammability: where the limits fall when it is hot or argon stands in for nitrogen; ignition."""

from __future__ import annotations

from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest
from review.plugins.flammability.ignition import surface_share
from review.plugins.flammability.lines import Hot, limiting_oxygen_at
from review.plugins.flammability.lines import _told_apart as told_apart
from review.plugins.shared.fuels import LOWER_SLOPE, limits_of, noble_share

from review import Engine, Measure, Reference, Review, loads
from review.interface.measure import MISSING
from review.physics.mixtures import limit_flame_temperature
from tests.support import shared_engine


@cache
def engine() -> Engine:
    return shared_engine()


def text(gas: str, hot: float | None = None, before: str = "", more: str = "") -> str:
    """A gas through one tube; before it another one, if given; hot: its furnace, degC."""
    composition = f"{{state: gas, composition: {{{gas}}}}}"
    reagents, flows, steps = f"gas: {composition}", "", ""
    if before:
        reagents += f", first: {{state: gas, composition: {{{before}}}}}"
        flows = ", old: {reagent: first, into: tube, rate: 1 L/min, reference: normal}"
        steps = (
            "procedure:\n- {step: first, duration: 1 h, flows: {old: on}}\n"
            "- {step: run, duration: 1 h, flows: {old: off, feed: on}}\n"
        )
    heat = "" if hot is None else (
        f"heat: {{f: {{heats: tube, kind: tube furnace, set_temperature: {hot} degC}}}}\n"
    )  # fmt: skip
    return (
        f"title: t\nduration: 1 h\nreagents: {{{reagents}}}\n"
        f"flows: {{feed: {{reagent: gas, into: tube, rate: 1 L/min, reference: normal}}{flows}}}\n"
        "train:\n- {id: tube, kind: reactor, inner_diameter: 16 mm, length: 400 mm}\n"
        "- {id: out, kind: outlet, to: hood}\n"
        f"{heat}{more}{steps}"
    )


@cache
def review(scenario: str) -> Review:
    done = engine().review(loads(scenario), upsets=False)
    assert not done.failures
    return done


def measure(kind: str, *of: str, **what: object) -> Measure:
    found = review(text(*of, **what)).measures  # type: ignore[arg-type]
    (one,) = [m for m in found if m.kind == kind and m.at == "tube"]
    return one


LEAN, RICH, SURFACE = (
    "flammability.fuel_to_lower_limit",
    "flammability.upper_limit_to_fuel",
    "ignition.surface_to_autoignition",
)


@pytest.mark.parametrize("noble", ["argon", "helium", "neon", "krypton", "xenon"])
def test_a_noble_gas_in_place_of_nitrogen_lowers_the_lower_limit(noble):
    """Equal flame temperature: (0.2095 33.3 + 0.7905 20.8)/31.8 = 0.736 of the limit in air.

    Heat capacities up to 1300 K: oxygen 33.3, nitrogen 31.4, air 31.8 J/(mol K) (NIST-JANAF, from
    memory). Three per cent are kept for what the burnt gas takes up.
    """
    if noble in ("neon", "krypton", "xenon"):
        share = noble_share(
            np.array([[0.03], [0.2], [0.77]]),
            limits_of([Reference().substance(n) for n in ("methane", "oxygen", "argon")]),
        )
        assert share == pytest.approx(0.77 / 0.97)
        return
    ratio = measure(LEAN, f"methane: 3 %, oxygen: 20.3 %, {noble}: rest").value[0, 0]
    limit = 3.0 / 4.4 / ratio
    assert 0.736 * 0.96 <= limit <= 0.736


def test_carbon_dioxide_earns_nothing_on_the_lower_limit():
    ratio = measure(LEAN, "methane: 3 %, oxygen: 20.3 %, carbon dioxide: rest").value[0, 0]
    assert ratio == pytest.approx(3.0 / 4.4)


@pytest.mark.parametrize(("fuel", "inside"), [("methane", 18.0), ("ethylene", 37.0)])
def test_a_noble_gas_widens_the_upper_limit(fuel, inside):
    """Measured: methane from 15 to 18 %, ethylene from 32 to 37 %; what burns is inside."""
    oxygen = 0.21 * (100 - inside)
    ratio = measure(RICH, f"{fuel}: {inside} %, oxygen: {oxygen} %, argon: rest").value[0, 0]
    assert ratio >= 1


def test_along_a_line_from_air_to_argon_each_mixture_has_its_own_limit():
    """4 % hydrogen in argon takes air's place: half of each is 2 % in a gas half argon.

    The lower limit there is at least 4 % x 0.8, so nowhere on the way more than 0.9 of it: at a
    share n of argon 4 n over 4 (1 - 0.367 n) with oxygen 20.95 (1 - n), worst where n is 1.
    """
    whole = measure(LEAN, "hydrogen: 4 %, argon: 96 %", before="oxygen: 20.95 %, nitrogen: 79.05 %")
    margin = "flammability.margin"
    found = measure(margin, "hydrogen: 4 %, argon: 96 %", before="oxygen: 20.95 %, nitrogen: rest")
    n = np.linspace(0, 1, 2001)
    lean = 0.04 * n / (0.04 * (1 - 0.3666 * n))
    inert = 0.2095 * (1 - n) / (0.8 * 20.8 / 29.1 * 0.5 * 0.04)
    exact = 1 - np.minimum(lean, inert).max()
    assert exact - 0.06 <= found.value[2, 0] <= exact + 1e-3
    assert whole.value[2, 0] <= 1.6


@pytest.mark.parametrize(
    ("fuel", "cold", "flame"),
    [("methane", 4.4, 1355), ("ethylene", 2.3, 1225), ("propane", 1.7, 1325),
     ("carbon monoxide", 10.9, 1260)],
)  # fmt: skip
def test_the_lower_limit_falls_towards_the_fuels_own_flame(fuel, cold, flame):
    """Equilibrium flames at the lowest published limits: 1355, 1225, 1325, 1260 K (Cantera)."""
    limit = 1.0 / measure(LEAN, f"{fuel}: 1 %, oxygen: 20 %, nitrogen: rest", hot=500.0).value[0, 0]
    assert limit == pytest.approx(cold * (1 - 475 / (flame - 298)), rel=0.02)


def test_past_autoignition_a_quarter_of_the_limit_decides():
    """Methane at 650 degC: 4.4 % (1 - 625/1062) = 1.81 %; 0.4 % is 22 % of it, 0.6 % is 33 %.

    To 40 % it burns away (802 kJ/mol x 0.006 / 29 J/(mol K) = 166 K), beyond, 0.9 %, it ignites.
    """
    little = measure(SURFACE, "methane: 0.4 %, oxygen: 20 %, nitrogen: rest", hot=650.0)
    more = measure(SURFACE, "methane: 0.6 %, oxygen: 20 %, nitrogen: rest", hot=650.0)
    assert little.value[0, 0] == 0
    assert more.value[0, 0] == pytest.approx(0.8)
    beyond = measure(SURFACE, "methane: 0.9 %, oxygen: 20 %, nitrogen: rest", hot=650.0)
    assert beyond.value[0, 0] >= 1


@pytest.mark.parametrize(
    ("surface", "ignition", "share"),
    [
        (300.0, 500.0, 0.6),  # of degrees Celsius
        (474.0, 500.0, 0.948),
        (476.0, 500.0, 1.0),  # closer than 25 K
        (550.0, 500.0, 1.1),
        (20.0, 90.0, 1.0),  # below 100 degC no share of it counts
        (-10.0, -30.0, 1.0),
        (-10.0, 30.0, 1.0),
    ],
)
def test_a_surface_at_or_above_ignition_is_always_the_worst(surface, ignition, share):
    found = surface_share(np.array(surface + 273.15), np.array(ignition + 273.15), np.array(2.0))
    assert found == pytest.approx(share)
    assert surface_share(np.array(900.0), np.array(500.0), np.array(1.0)) == 0
    assert np.isnan(surface_share(np.array(900.0), np.array(np.nan), np.array(2.0)))
    assert np.isnan(surface_share(np.array(900.0), np.array(500.0), np.array(np.nan)))


def test_in_more_oxygen_only_what_ignites_in_air_too_is_known():
    rich = "methane: 4 %, oxygen: 22 %, nitrogen: rest"
    assert measure(SURFACE, rich, hot=300.0).status[0, 0] == MISSING
    assert measure(SURFACE, rich, hot=560.0).value[0, 0] >= 1


def test_an_unknown_light_off_does_not_hide_a_surface_that_ignites():
    gas, more = "methane: 4 %, oxygen: 20 %, nitrogen: rest", "catalysts: {c: {in: tube}}\n"
    assert measure(SURFACE, gas, hot=300.0, more=more).status[0, 0] == MISSING
    assert measure(SURFACE, gas, hot=560.0, more=more).value[0, 0] >= 1


def outlet(gas: str, hot: float | None = None) -> float:
    found = review(text(gas, hot)).measures
    (one,) = [m for m in found if m.kind == "flammability.outlet_in_air"]
    return float(one.value[0, 0])


def test_ammonia_that_was_hot_counts_as_hydrogen_at_the_outlet():
    """20 % ammonia does not burn in air (40.1 %); cracked, 1.5 x 20 % is 5.5 times hydrogen's."""
    gas = "ammonia: 20 %, nitrogen: rest"
    assert outlet(gas) < 1
    assert outlet(gas, hot=380.0) < 1.5
    assert outlet(gas, hot=600.0) > 0.2 * 1.5 / 0.055


def test_gas_that_leaves_hot_burns_at_less_than_the_standards_figure():
    """4 % hydrogen: 4/5.5 = 0.73 cold; leaving at 300 degC against 5.5 % (1 - 1.75e-3 x 275)."""
    gas = "hydrogen: 4 %, nitrogen: rest"
    assert outlet(gas) == pytest.approx(4 / 5.5)
    assert outlet(gas, hot=300.0) == pytest.approx(4 / (5.5 * (1 - 1.75e-3 * 275)), rel=1e-3)


def test_a_fuel_by_itself_has_the_noble_gas_of_what_it_is_mixed_with() -> None:
    """Rows: fuel, argon, nitrogen. From hydrogen to argon with a quarter of nitrogen."""
    limits = SimpleNamespace(rows=(0,), noble=(1,))
    line = np.array([[[1.0], [0.0], [0.0]], [[0.0], [0.75], [0.25]]])
    assert noble_share(line[::-1], limits, ends=True).ravel().tolist() == [0.75, 0.75]
    assert noble_share(line, limits, ends=True).ravel().tolist() == [0.75, 0.75]
    assert noble_share(line, limits).ravel().tolist() == [0.0, 0.75]


def test_a_fuel_s_nitrogen_leaves_in_pairs() -> None:
    """Ammonia burns to half a mole of nitrogen and one and a half of water."""
    names = ("ammonia", "oxygen", "nitrogen")
    species = [Reference().substance(name) for name in names]
    ammonia = species[0]
    flame = limit_flame_temperature(
        ammonia.number("lower_limit_air"), ammonia.number("heat_of_combustion"), 0, 3, 0.5, 0.75
    )
    slope = max(1 / (float(flame) - 298.15), LOWER_SLOPE)
    assert limits_of(species).slope.tolist() == pytest.approx([slope])


def test_oxygen_limit_that_nobody_measured_is_four_fifths_of_what_burns() -> None:
    """1-Propanol, 2.1 % with 4.5 mol of oxygen each: 0.8 x 9.45 %."""
    species = [Reference().substance(name) for name in ("1-propanol", "oxygen")]
    assert limits_of(species).loc.tolist() == pytest.approx([0.8 * 4.5 * 0.021])


@pytest.mark.parametrize(
    ("fuel", "inert", "guessed"),
    [("hydrogen", "nitrogen", False), ("hydrogen", "argon", True),
     ("1-propanol", "nitrogen", True)],
)  # fmt: skip
def test_limiting_oxygen_in_a_noble_gas_or_unmeasured_is_an_estimate(
    fuel: str, inert: str, guessed: bool
) -> None:
    limits = limits_of([Reference().substance(name) for name in (fuel, "oxygen", inert)])
    mixed = np.array([[0.1], [0.2], [0.7]])
    plain = Hot(*(np.ones((1, 1)) for _ in range(4)))
    _, estimated = limiting_oxygen_at(limits, plain, np.array([mixed, mixed]))
    assert estimated.tolist() == [guessed]


def test_up_to_three_gases_of_a_trial_each_count_whatever_other_trials_have() -> None:
    """Four gases pass; in the first trial two are the old gas, in the second all differ."""
    hydrogen, air, chlorine, nitrogen = np.eye(4)
    old = np.stack([nitrogen, 0.5 * (nitrogen + air)], axis=1)
    gases = np.stack(
        [
            np.stack([nitrogen, nitrogen], axis=1),
            np.stack([hydrogen, hydrogen], axis=1),
            np.stack([chlorine, chlorine], axis=1),
            np.stack([nitrogen, air], axis=1),
        ]
    )
    few, each = told_apart(gases, old)
    assert few.tolist() == [True, False]
    assert {1, 2} <= {int(pick[0]) for pick in each}
