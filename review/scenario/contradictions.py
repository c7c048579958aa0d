"""Values of a finished scenario that cannot be true together."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from math import ceil, pi

from review.scenario.apparatus import Heat
from review.scenario.errors import Problem, quoted
from review.scenario.intended import crossed
from review.scenario.models import Scenario
from review.scenario.sizes import bought
from review.scenario.suction import sucked_and_fed
from review.scenario.units import Stated
from review.scenario.yaml import Where

#: How far an outside diameter may be from bore and two walls. Common practice, no source.
AGREE = 0.05
#: No hood draws faster, m/s. Common practice, no source.
FASTEST_HOOD = 2.0


#: Least that a warm wall loses, W/(m2 K): half of what air and radiation take at 100 degC (10, a
#: textbook of heat transfer, from memory).
LOSES = 5.0
#: Least that insulation conducts, W/(m K) (foam, handbooks, from memory), and how warm a vessel
#: with a liquid counts at the most where its heater is set higher, K: the setting is the heater's.
CONDUCTS, BOILS = 0.02, 373.15
#: Least heat of burning of a gas, J/m3 (hydrogen 10.1 MJ at 20 degC, from memory), and what share
#: of it a flame leaves in what stands over it at the least (common practice, no source).
BURNS, KEPT = 10e6, 0.05


def contradictions(scenario: Scenario, but: Collection[Where] = ()) -> list[Problem]:
    """Values that cannot be true together, outside the sections of `but`."""
    found = [
        *_flow_values(scenario),
        *_pressures(scenario),
        *sucked_and_fed(scenario),
        *_item_values(scenario),
        *_heat_values(scenario),
        *_bench_values(scenario),
        *crossed(scenario),
    ]
    return [scenario.problem(path, message) for path, message in found if path[:2] not in but]


def _flow_values(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    for name, flow in scenario.flows.items():
        path: Where = ("flows", name)
        by = flow.rate.by
        if flow.at_most is not None:
            if flow.at_most.by != by:
                yield (*path, "at_most"), f"a {flow.at_most.by} flow, but `rate` is a {by} flow"
            elif flow.at_most.value < flow.rate.value:
                yield (*path, "at_most"), "at_most is below rate"
        most = flow.at_most.value if flow.at_most is not None and flow.at_most.by == by else None
        for i, step in enumerate(scenario.procedure):
            setting = step.flows.get(name)
            if isinstance(setting, Stated) and setting.by != by:
                yield (
                    ("procedure", i, "flows", name),
                    f"a {setting.by} flow, but the rate of {quoted(name)} is a {by} flow",
                )
            elif isinstance(setting, Stated) and most is not None and setting.value > most:
                yield (
                    ("procedure", i, "flows", name),
                    f"more than {quoted(name)} can deliver: its at_most is less",
                )


def _pressures(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    """Pressures above the room's that cannot be below it, and a supply that cannot be below its
    own regulator."""
    room = scenario.ambient.pressure
    for i, item in enumerate(scenario.train):
        for key in ("rating", "joint_rating"):
            claimed = getattr(item, key)
            if claimed is not None and claimed < room:
                yield (
                    ("train", i, key),
                    "below the pressure of the room: a rating says what it holds from inside",
                )
    for name, reagent in scenario.reagents.items():
        held = reagent.held
        if held and held.regulator and held.pressure and held.regulator > held.pressure:
            yield (("reagents", name, "held", "regulator"), "more than the cylinder's pressure")
    for name, flow in scenario.flows.items():
        given = scenario.reagents.get(flow.reagent)
        setting = given.held.regulator if given and given.held else None
        if flow.shut_off_pressure and setting and flow.shut_off_pressure < setting:
            yield (
                ("flows", name, "shut_off_pressure"),
                f"below the setting of the regulator of {quoted(flow.reagent)}, which it sees "
                "when the flow is shut in",
            )


def _bench_values(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    """A hood that blows, and a frame that carries more than it weighs."""
    hood = scenario.ventilation.hood if scenario.ventilation else None
    if hood and hood.face_velocity and hood.face_velocity > FASTEST_HOOD:
        yield (
            ("ventilation", "hood", "face_velocity"),
            f"above {FASTEST_HOOD:g} m/s: no hood draws so fast; is it the speed in the duct?",
        )
    if scenario.frame:
        carried = sum(clamp.carries for clamp in scenario.frame.clamps.values())
        masses = sum(mass.mass for mass in scenario.frame.masses.values())
        if carried > masses:
            yield (
                ("frame", "clamps"),
                f"the clamps carry {carried:g} kg, but the masses add to {masses:g} kg: what a "
                "clamp carries is one of the frame's masses",
            )


def _item_values(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    taken: dict[str, float] = {}
    for i, item in enumerate(scenario.train):
        if item.size and item.home_made != "no" and bought(item.size):
            yield (
                ("train", i, "home_made"),
                f'a "{item.size}" is bought: of what is made or altered at home write "capacity", '
                '"inner_diameter" and "wall" instead of a trade size',
            )
        if item.liquid_volume and not item.liquid:
            said = "what liquid it is, is not said, as in 'liquid: water'"
            yield ("train", i, "liquid_volume"), said
        if item.heated_length and item.length and item.heated_length > item.length:
            yield ("train", i, "heated_length"), "heated_length is more than length"
        if item.outer_diameter and item.inner_diameter and item.wall:
            made = item.inner_diameter + 2 * item.wall
            if not abs(item.outer_diameter - made) <= AGREE * made:
                yield (
                    ("train", i, "outer_diameter"),
                    f"bore and two walls are {1e3 * made:.3g} mm: outer_diameter is not that",
                )
        elif item.outer_diameter:
            yield (
                ("train", i, "outer_diameter"),
                "with it belongs 'inner_diameter' or 'wall', smaller than itself",
            )
        packed = item.packing.length if item.packing else None
        if packed and item.length and packed > item.length:
            yield ("train", i, "packing", "length"), "the packing is longer than the item"
        for upstream, share in item.share.items():
            taken[upstream] = taken.get(upstream, 0.0) + share
            if taken[upstream] > 1.001:
                yield (
                    ("train", i, "share", upstream),
                    f"the shares of {quoted(upstream)} add to {100 * taken[upstream]:.4g} %, "
                    "more than 100 %",
                )
    for upstream, total in taken.items():
        below = [(i, item) for i, item in enumerate(scenario.train) if upstream in item.from_]
        if total < 0.999 and all(upstream in item.share for _, item in below):
            yield (
                ("train", below[-1][0], "share", upstream),
                f"the shares of {quoted(upstream)} add to {100 * total:.4g} %, not 100 %",
            )


def _heat_values(scenario: Scenario) -> Iterator[tuple[Where, str]]:
    for name, heat in scenario.heat.items():
        if heat.set_temperature is None and heat.hottest is None:
            yield ("heat", name), "needs set_temperature or hottest"
        elif heat.set_temperature and heat.hottest and heat.hottest < heat.set_temperature:
            yield ("heat", name, "hottest"), "hottest is below set_temperature"
        for i, step in enumerate(scenario.procedure):
            setting = step.heat.get(name)
            if isinstance(setting, float) and heat.hottest and setting > heat.hottest:
                yield (
                    ("procedure", i, "heat", name),
                    f"more than {quoted(name)} can reach: its hottest is less",
                )
        least = _least_power(scenario, heat)
        if heat.power is not None and heat.power < least:
            yield (
                ("heat", name, "power"),
                f"too little for what the file says of {quoted(name)}: at least {ceil(least)} W go "
                "into what it heats; write its maker's figure, or leave it out",
            )


def _least_power(scenario: Scenario, heat: Heat) -> float:
    """What keeps a vessel with a liquid at the setting, or what its flame leaves in it, W."""
    vessel = next((item for item in scenario.train if item.id == heat.heats), None)
    if vessel is None or vessel.liquid is None:
        return 0.0
    holds = vessel.capacity or (vessel.gas_volume or 0.0) + (vessel.liquid_volume or 0.0)
    warmer = min(heat.set_temperature or 0.0, BOILS) - scenario.ambient.temperature
    through = 1 / (1 / LOSES + (heat.insulation_thickness or 0.0) / CONDUCTS)
    lost = through * pow(36 * pi * holds * holds, 1 / 3) * max(warmer, 0.0)
    fuel = heat.fuel_rate
    burnt = KEPT * BURNS * fuel.value if fuel is not None and fuel.by == "volume" else 0.0
    return float(max(lost, burnt))
