"""What boils dry, runs over, comes all at once or out as fog, and what stands beside it unharmed.

Each dangerous row names the criterion that has to tell it. Common practice, no source.
"""

from __future__ import annotations

import pytest

from review import loads
from tests.practice.score import PASSES
from tests.practice.test_flaws import dropped, over, shut, through
from tests.practice.test_plain import (
    CONDENSER,
    GLASS,
    HOSE,
    ON_OFF,
    OUT,
    PTFE,
    RECEIVER,
    SCREEN,
    STOPPER,
    TAPER,
    WARM,
    WASHED,
    ZINC,
    fed,
    heated,
    liquid,
    made,
    text,
)  # fmt: skip
from tests.practice.test_substances import beaker, tube
from tests.support import shared_engine

PAIR, CAP, FULL = "reactive.pair", "reactive.decomposition_temperature", "heat.collected"
BATH = ("water bath", 80, 95)
TESTED = ", {kind: peroxide test}"


def still(
    what: str, heater: tuple[str, int, int], power: str = "", receiver: int = 500, more: str = ""
) -> str:
    """200 mL of a liquid boiled for an hour into a receiver of so many mL; 0: into no receiver."""
    kind, to, hottest = heater
    behind = [RECEIVER.replace("500 mL", f"{receiver} mL")] if receiver else []
    heat = heated("flask", kind, to, hottest)
    return text(
        liquid(f'"{what}": 100 %'),
        [f"{{id: flask, kind: round-bottom flask, {GLASS}, capacity: 500 mL, liquid: liquid, "
         f"liquid_volume: 200 mL, {TAPER}}}", CONDENSER, *behind, OUT],
        heat.replace("cooling_time", f"{power}cooling_time") + WARM, more=more,
    )  # fmt: skip


def outdoors(gas: str) -> str:
    return tube(gas, "hood").replace("to: hood, inner", "to: outdoors, inner")


#: 110 mL of strong acid on 30 g of zinc in glass and PTFE, let out slowly as the file says.
POURED = (
    made("hydrogen chloride: 20 %, water: 80 %", "zinc: 100 %", "Zn(s) + 2 HCl -> ZnCl2 + H2", 250,
         SCREEN)
    .replace("30 mL", "110 mL").replace("amount: 1 g", "amount: 30 g")
    .replace("60 mL/min", "400 mL/min").replace("rate: 20 mL/min", "rate: 200 mL/min")
    .replace("material: silicone rubber", "material: PTFE").replace(STOPPER, TAPER)
)  # fmt: skip


def sulfite(grams: int, acid: int, lye: int, most: int, limited: str = "") -> str:
    """Sulfur dioxide from sulfite and acid in the hood, through a large empty bottle into lye."""
    tube = HOSE.format("hose", "PTFE", PTFE)
    solid = liquid("sodium sulfite: 100 %", f"{grams} g", "solid")
    return text(
        f"{liquid('sodium hydroxide: 12 %, water: 88 %', f'{lye} mL')}, acid: {{state: liquid, "
        f"composition: {{sulfuric acid: 20 %, water: 80 %}}, amount: {acid} mL, density: "
        f"1.15 g/mL, held: {{as: bottle}}}}, {solid}, gas: "
        "{state: gas, composition: {sulfur dioxide: 100 %}, held: {as: generator, rate: 20 mL/min, "
        f"{limited}equation: Na2SO3(s) + H2SO4 -> Na2SO4 + H2O + SO2}}}}",
        [f"{{id: flask, kind: flask, {GLASS}, capacity: {2 * acid} mL, liquid: acid, "
         f"liquid_volume: {acid} mL, {TAPER}}}", tube,
         f"{{id: empty bottle, kind: safety bottle, {GLASS}, capacity: 2 L, {PTFE}}}",
         WASHED.format(GLASS, lye, PTFE, ", absorbs: {sulfur dioxide: {efficiency: 99 %}}")
         .replace("capacity: 400 mL", f"capacity: {2 * lye} mL")
         .replace("inner_diameter: 60 mm", "inner_diameter: 100 mm"), OUT],
        ON_OFF, fed("20 mL/min", "flask", most=f"{most} mL/min").replace(
            "{kind: float meter, calibration_gas: air}", "{kind: none}"),
        ", {kind: gas detector, senses: sulfur dioxide, alarm: 0.5 ppm, at: bench}",
    )  # fmt: skip


def hydride(heater: tuple[str, int, int]) -> str:
    """A hydride in an ether that is tested for peroxides, under reflux."""
    told = still("tetrahydrofuran", heater, receiver=0, more=TESTED)
    return told.replace(
        '"tetrahydrofuran": 100 %', "tetrahydrofuran: 96 %, lithium aluminium hydride: 4 %"
    )


#: A quarter of an hour's gas by the file, and some ten litres of it in the first minute.
MUCH_SULFITE = (50, 300, 1000, 700)
DANGEROUS = {
    "a poison's charge poured through its lye": (sulfite(*MUCH_SULFITE), "exposure.failure"),
    "styrene under reflux": (
        still("styrene", ("heating mantle", 150, 200), receiver=0, more=TESTED), PAIR,
    ),
    "a hydride in glass in a water bath": (hydride(BATH), PAIR),
    "strong acid poured on zinc": (POURED, "heat.charge"),
    "tetrahydrofuran distilled to dryness": (still("tetrahydrofuran", BATH), PAIR),
    "ether distilled to dryness": (still("diethyl ether", ("water bath", 45, 55)), PAIR),
    "dioxane with power enough for all of it": (
        still("1,4-dioxane", ("oil bath", 120, 140), "power: 100 W, "), PAIR,
    ),
    "dichloromethane boiled away on a hot plate": (
        still("dichloromethane", ("hot plate", 80, 400)), PAIR,
    ),
    "trichloroethylene in a hot mantle": (
        still("trichloroethylene", ("heating mantle", 120, 380)), PAIR,
    ),
    "nitromethane in a hot mantle": (
        still("nitromethane", ("heating mantle", 130, 350)), CAP,
    ),
    "a receiver of half the flask": (still("ethanol", BATH, receiver=100), FULL),
    "more dropped in than there is room": (
        dropped("water: 100 %", "water: 100 %").replace("amount: 50 mL", "amount: 500 mL"), FULL,
    ),
    "dropped in faster in one step than the flow says": (
        dropped("water: 100 %", "water: 100 %").replace("amount: 50 mL", "amount: 500 mL")
        .replace("at_most: 20 mL/min, ", "").replace("{f: on}", "{f: 30 mL/min}"), FULL,
    ),
    # what is led outdoors
    "chlorine led outdoors": (outdoors("chlorine: 100 %"), "exposure.outdoors"),
    "arsine in nitrogen led outdoors": (
        outdoors("arsine: 1 %, nitrogen: 99 %"), "exposure.outdoors",
    ),
    # two liquids
    "bleach with peroxide": (
        beaker("sodium hypochlorite: 5 %, hydrogen peroxide: 3 %, water: 92 %", "hood"), PAIR,
    ),
    "aluminium hydride in ethyl acetate": (
        beaker("lithium aluminium hydride: 5 %, ethyl acetate: 95 %", "hood"), PAIR,
    ),
    # fog, and gas that forms over what is hot
    "sulfur trioxide into water": (
        through("sulfur trioxide: 2 %, nitrogen: 98 %", "water: 100 %"), PAIR,
    ),
    "oleum standing open": (beaker("sulfuric acid: 70 %, sulfur trioxide: 30 %", "hood"), PAIR),
    "strong bleach screwed shut": (shut("sodium hypochlorite: 12 %, water: 88 %"), PAIR),
    "steam over hot iron": (over("water: 30 %, nitrogen: 70 %", "iron", 700), PAIR),
    "chlorine over warm sulfur": (over("chlorine: 10 %, nitrogen: 90 %", "sulfur", 120), PAIR),
}  # fmt: skip
ORDINARY = {
    "styrene warmed": still("styrene", ("water bath", 50, 60), receiver=0, more=TESTED),
    "a hydride in a mantle": hydride(("heating mantle", 80, 100)),
    "a little sulfite poured": sulfite(4, 40, 200, 60),
    "much sulfite under a funnel": sulfite(*MUCH_SULFITE, limited="limited_by: dropping funnel, "),
    "household bleach screwed shut": shut("sodium hypochlorite: 4 %, water: 96 %"),
    "moist nitrogen over warm iron": over("water: 1 %, nitrogen: 99 %", "iron", 200),
    "carbon dioxide led outdoors": outdoors("carbon dioxide: 100 %"),
    "strong acid dropped on zinc": POURED.replace(
        "rate: 200 mL/min}", "rate: 200 mL/min, limited_by: dropping funnel}", 1
    ),
    "a little weak acid poured on zinc": made(*ZINC, 250, SCREEN),
    "tetrahydrofuran tested for peroxides": still("tetrahydrofuran", BATH, more=TESTED),
    "tetrahydrofuran of which much is left": still("tetrahydrofuran", BATH, "power: 12 W, "),
    "tetrahydrofuran under reflux": still("tetrahydrofuran", BATH, receiver=0),
    "hexane distilled on a water bath": still("n-hexane", BATH),
    "toluene in a mantle": still("toluene", ("heating mantle", 130, 200)),
    "water in a mantle that gets hot": still("water", ("heating mantle", 120, 300)),
    "a small receiver for little heat": still("ethanol", BATH, "power: 10 W, ", 100),
}


@pytest.mark.parametrize("name", DANGEROUS)
def test_what_runs_dry_or_over_is_refused_for_it(name: str) -> None:
    told, criterion = DANGEROUS[name]
    review = shared_engine().review(loads(told))
    against = {f.criterion for f in review.findings if f.grade in ("unacceptable", "undetermined")}
    assert review.verdict not in PASSES
    assert criterion in against


@pytest.mark.parametrize("name", ORDINARY)
def test_what_does_not_is_allowed(name: str) -> None:
    assert shared_engine().review(loads(ORDINARY[name])).verdict in PASSES


def test_little_poison_led_outdoors_is_a_condition() -> None:
    review = shared_engine().review(loads(outdoors("hydrogen sulfide: 1 %, nitrogen: 99 %")))
    assert review.verdict == "may proceed with conditions"
    assert "exposure.outdoors" in {f.criterion for f in review.findings if f.grade == "tolerable"}
