"""Set-ups as somebody writes them who has read the README and no more: each is allowed with few
conditions, and one change makes it dangerous beyond doubt.

Common practice, no source. Verdicts were written down before any was reviewed.
"""

from __future__ import annotations

import pytest

from review import loads
from tests.practice.score import PASSES, conditions
from tests.support import shared_engine

BENCH = """
operators: 2
ambient: {temperature: 20 degC, pressure: 1 atm}
frame: stands by itself on the bench
ignition_sources: none in the room
ventilation: {room_volume: 120 m3, air_changes: 5 / hour, hood: {opening_width: 1.2 m,
  opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: yes, heat_inside: no, exhaust: outdoors}}
safeguards: [{kind: second person}, {kind: safety glasses}, {kind: gloves}, {kind: escape route},
  {kind: fire extinguisher, agent: carbon dioxide}, {kind: eyewash, within: 10 s}, {kind: RCD},
  {kind: earthed frame}, {kind: cylinder chain}, {kind: waste container}, {kind: polished ends}MORE]
"""
CYLINDER = "held: {as: cylinder, volume: 5 L, pressure: 100 bar gauge, regulator: 0.2 bar gauge}"
GLASS = "material: borosilicate glass, rating: 0.5 bar gauge, home_made: no, in: hood"
PTFE = "joint: screw-thread connector, joint_material: PTFE"
TAPER = "joint: clipped NS, joint_material: PTFE, joint_rating: 0.1 bar gauge"
SILICONE = "joint: clipped hose, joint_material: silicone rubber"
STOPPER = "joint: rubber stopper, joint_material: silicone rubber"
HOSE = (
    "{{id: {}, kind: hose, material: {}, inner_diameter: 6 mm, wall: 2 mm, length: 600 mm, "
    "rating: 1 bar gauge, home_made: no, in: hood, {}}}"
)
WASHED = (
    "{{id: bottle, kind: gas washing bottle, {}, capacity: 400 mL, liquid: liquid, "
    "liquid_volume: {} mL, inner_diameter: 60 mm, dip_depth: 40 mm, dip_tube_bore: 6 mm, "
    "lift: 150 mm, {}{}}}"
)
OUT = "{id: outlet, kind: outlet, to: hood, inner_diameter: 8 mm}"
CONDENSER = (
    f"{{id: condenser, kind: condenser, {GLASS}, inner_diameter: 16 mm, wall: 2 mm, "
    f"length: 400 mm, coolant_temperature: 15 degC, ends: open, guard: yes, {TAPER}}}"
)
RECEIVER = f"{{id: receiver, kind: trap, {GLASS}, capacity: 500 mL, {TAPER}}}"
TUBE = (
    "{{id: tube, kind: quartz tube, material: quartz glass, inner_diameter: {}, wall: 2 mm, "
    f"length: 800 mm, heated_length: 300 mm, ends: open, home_made: no, in: hood, {PTFE}"
    "{}}}"
)


def text(reagents: str, train: list[str], rest: str, flows: str = "", more: str = "") -> str:
    return (
        f"title: plain\n{BENCH.replace('MORE', more)}reagents: {{{reagents}}}\n"
        + (f"flows: {{{flows}}}\n" if flows else "")
        + "train:\n" + "".join(f"- {item}\n" for item in train) + rest
    )  # fmt: skip


def gas(composition: str, name: str = "gas") -> str:
    return f"{name}: {{state: gas, composition: {{{composition}}}, {CYLINDER}}}"


def liquid(composition: str, amount: str = "200 mL", state: str = "liquid") -> str:
    held = ", held: {as: bottle}" if state == "liquid" else ""
    return f"{state}: {{state: {state}, composition: {{{composition}}}, amount: {amount}{held}}}"


def fed(rate: str, into: str, name: str = "feed", of: str = "gas", most: str = "1 L/min") -> str:
    return (
        f"{name}: {{reagent: {of}, into: {into}, rate: {rate}, reference: ambient, "
        f"at_most: {most}, "
        "instrument: {kind: float meter, calibration_gas: air}}"
    )


def heated(what: str, kind: str, to: int, hottest: int) -> str:
    return (
        f"heat: {{it: {{heats: {what}, kind: {kind}, set_temperature: {to} degC, hottest: "
        f"{hottest} degC, cooling_time: 30 min, distance: 500 mm}}}}\n"
    )


def steps(*each: str) -> str:
    return "procedure:\n" + "".join(f"- {{step: {n}, {s}}}\n" for n, s in enumerate(each))


ON_OFF = steps("duration: 20 min, flows: {feed: on}", "duration: 10 min, flows: {feed: off}")
WARM = steps("duration: 60 min, heat: {it: on}", "duration: 60 min, heat: {it: off}")
IN_GAS = steps(
    "duration: 30 min, flows: {feed: on}", "duration: 60 min, heat: {it: on}",
    "duration: 240 min, heat: {it: off}", "duration: 5 min, flows: {feed: off}",
)  # fmt: skip
PURGED = steps(
    "duration: 30 min, flows: {inert: on}", "duration: 45 min, heat: {it: on}, hold: [inert]",
    "duration: 60 min, flows: {inert: off, feed: on}",
    "duration: 30 min, flows: {feed: off, inert: on}", "duration: 240 min, heat: {it: off}",
    "duration: 5 min, flows: {inert: off}",
)  # fmt: skip


def absorbed(what: str, share: str, composition: str, alarm: str) -> str:
    return text(
        f"{gas(f'{what}: {share}, nitrogen: rest')}, {liquid(composition)}",
        [HOSE.format("hose", "PTFE", PTFE),
         f"{{id: empty bottle, kind: safety bottle, {GLASS}, capacity: 500 mL, {PTFE}}}",
         WASHED.format(GLASS, 200, PTFE, f", absorbs: {{{what}: {{efficiency: 95 %}}}}"), OUT],
        ON_OFF, fed("100 mL/min", "hose", most="300 mL/min"),
        f", {{kind: gas detector, senses: {what}, alarm: {alarm}, at: bench}}",
    )  # fmt: skip


def distilled(more: tuple[str, ...] = ()) -> str:
    return text(
        liquid("ethanol: 100 %"),
        [f"{{id: flask, kind: round-bottom flask, {GLASS}, capacity: 500 mL, liquid: liquid, "
         f"liquid_volume: 200 mL, {TAPER}}}", *more, CONDENSER, RECEIVER, OUT],
        heated("flask", "oil bath", 110, 140) + WARM,
    )  # fmt: skip


def in_furnace(composition: str, to: int, solid: str, reactions: str) -> str:
    return text(
        f"{gas(composition)}, {liquid(solid, '5 g', 'solid')}",
        [HOSE.format("hose", "PTFE", PTFE), TUBE.format("20 mm", f", reactions: {reactions}"),
         HOSE.format("outlet hose", "silicone rubber", SILICONE), OUT],
        heated("tube", "tube furnace", to, to + 30) + IN_GAS, fed("300 mL/min", "hose"),
    )  # fmt: skip


def purged(composition: str, to: int, equation: str, limiting: str, more: str = "") -> str:
    """Inert gas and a feed by mass flow controllers through a tube."""
    flows = ", ".join(
        fed(rate, "hose", name, of).replace("float meter", "mass flow controller")
        .replace("calibration_gas: air", "calibration_gas: nitrogen")
        .replace("reference: ambient", f"reference: standard, on_power_loss: {lost}")
        for rate, name, of, lost in (("300 mL/min", "inert", "inert gas", "stays"),
                                     ("100 mL/min", "feed", "gas", "closes"))
    )  # fmt: skip
    packed = ", packing: {voidage: 45 %, particle_diameter: 1 mm, length: 30 mm}" if more else ""
    reaction = f", reactions: [{{equation: {equation}, limiting: {limiting}, conversion: 80 %}}]"
    return text(
        f"{gas(composition)}, {gas('nitrogen: 100 %', 'inert gas')}",
        [HOSE.format("hose", "PTFE", PTFE), TUBE.format("10 mm", packed + reaction),
         HOSE.format("outlet hose", "PTFE", PTFE), OUT],
        heated("tube", "tube furnace", to, to + 30) + more + PURGED, flows,
    )  # fmt: skip


def made(acid: str, metal: str, equation: str, flask: int, more: str = "") -> str:
    """Hydrogen from a metal and an acid through a drying tube into the hood."""
    feed = fed("20 mL/min", "flask", most="60 mL/min").replace(
        "{kind: float meter, calibration_gas: air}", "{kind: none}"
    )
    return text(
        f"{liquid(acid, '30 mL')}, {liquid(metal, '1 g', 'solid')}, gas: {{state: gas, "
        "composition: {hydrogen: 100 %}, held: {as: generator, "
        f"equation: {equation}, rate: 20 mL/min}}}}",
        [f"{{id: flask, kind: round-bottom flask, {GLASS}, capacity: {flask} mL, liquid: liquid, "
         f"liquid_volume: 30 mL, {STOPPER}, "
         "relief: {opens_at: 0.03 bar gauge, bore: 6 mm, length: 300 mm}}",
         HOSE.format("hose", "silicone rubber", SILICONE), OUT],
        steps("duration: 20 min, flows: {feed: on}", "duration: 10 min, flows: {feed: off}"),
        feed, more,
    )  # fmt: skip


def open_tube(mouth: str, joint: str) -> str:
    return text(
        liquid("water: 100 %", "8 mL"),
        [f"{{id: tube, kind: test tube, {GLASS}, capacity: 25 mL, liquid: liquid, "
         f"liquid_volume: 8 mL, {joint}}}",
         f"{{id: outlet, kind: outlet, to: hood, inner_diameter: {mouth}}}"],
        heated("tube", "hot plate", 110, 250) + WARM,
    )  # fmt: skip


def over_water(jar: str) -> str:
    """Oxygen from peroxide of 6 % through a hose into a jar of water."""
    feed = fed("60 mL/min", "flask", most="200 mL/min").replace(
        "{kind: float meter, calibration_gas: air}", "{kind: none}"
    )
    return text(
        f"{liquid('hydrogen peroxide: 6 %, water: 94 %', '40 mL')}, gas: {{state: gas, "
        "composition: {oxygen: 100 %}, amount: 0.8 L, held: {as: generator, "
        "equation: 2 H2O2 -> 2 H2O + O2, rate: 60 mL/min}}",
        [f"{{id: flask, kind: conical flask, {GLASS}, capacity: 250 mL, liquid: liquid, "
         "liquid_volume: 40 mL, joint: rubber stopper}",
         HOSE.format("hose", "silicone rubber", SILICONE),
         f"{{id: jar, kind: wash bottle, {GLASS.replace('0.5', '0.1')}, capacity: 1.5 L, "
         f"liquid: water, liquid_volume: 1 L, dip_depth: 80 mm, dip_tube_bore: 6 mm, {jar}}}",
         "{id: mouth, kind: outlet, to: hood, inner_diameter: 60 mm}"],
        steps("duration: 10 min, flows: {feed: on}"), feed,
    )  # fmt: skip


COLUMN = (
    f"{{id: column, kind: column, {GLASS}, inner_diameter: 22 mm, wall: 2 mm, length: 300 mm, "
    "ends: open, packing: {material: borosilicate glass, voidage: 60 %, particle_diameter: 6 mm}, "
    f"{TAPER}}}"
)
CAP = (
    "{id: cap, kind: vessel, material: PTFE, capacity: 20 mL, rating: 0.5 bar gauge, in: hood, "
    f"home_made: no, {PTFE}}}"
)
STIRRED = text(
    f"{gas('argon: 100 %')}, {liquid('THF: 100 %', '80 mL')}",
    [HOSE.format("hose", "PTFE", PTFE),
     f"{{id: flask, kind: flask, {GLASS}, capacity: 250 mL, liquid: liquid, liquid_volume: 80 mL, "
     f"{TAPER}}}", OUT],
    steps("duration: 120 min, flows: {feed: on}", "duration: 5 min, flows: {feed: off}"),
    fed("20 mL/min", "hose"),
)  # fmt: skip
SCREEN = ", {kind: safety screen}"
ZINC = ("sulfuric acid: 15 %, water: 85 %", "zinc granules: 100 %", "Zn(s) + H2SO4 -> ZnSO4 + H2")
MAGNESIUM = (
    "acetic acid: 5 %, water: 95 %", "magnesium ribbon: 100 %",
    "Mg(s) + 2 CH3COOH -> Mg(CH3COO)2 + H2",
)  # fmt: skip
SODIUM = ("hydrogen chloride: 5 %, water: 95 %", "sodium: 100 %", "2 Na(s) + 2 HCl -> 2 NaCl + H2")
BED = (
    "catalysts: {{bed: {{in: tube, material: {}, form: pellets, mass: 1 g, light_off: 20 degC, "
    "maximum_temperature: 800 degC}}}}\n"
)
STEEL = ("nitrogen: 100 %", 700, "iron: 100 %", "none")
COBALT = (400, "Co3O4(s) + 4 H2 -> 3 Co(s) + 4 H2O", "hydrogen")
TOLUENE = (300, "C7H8 + 9 O2 -> 7 CO2 + 4 H2O", "toluene", BED.format("manganese dioxide"))

COUNTED = text(
    gas("P10: 100 %"), [HOSE.format("hose", "PTFE", PTFE), CAP, OUT], ON_OFF,
    fed("50 mL/min", "hose", most="300 mL/min"),
)  # fmt: skip
PUMPED = (
    "{id: flask, kind: suction flask, material: borosilicate glass, capacity: 500 mL, rating: "
    "0.2 bar gauge, vacuum_rating: full vacuum, liquid: liquid, liquid_volume: 100 mL, "
    "joint: rubber stopper, home_made: no, in: hood}",
    "{id: hose, kind: vacuum hose, material: natural rubber, inner_diameter: 8 mm, wall: 5 mm, "
    "length: 800 mm, rating: 1 bar gauge, vacuum_rating: full vacuum, joint: clipped hose, "
    "home_made: no, in: hood}",
    "{id: bottle, kind: Woulff bottle, material: borosilicate glass, capacity: 500 mL, rating: "
    "0.2 bar gauge, vacuum_rating: full vacuum, joint: clipped hose, home_made: no, in: hood}",
    "{id: jet, kind: water-jet pump, material: polypropylene, joint: clipped hose, in: hood, "
    "suction: {can_draw: 8 L/min, lowest_pressure: 20 mbar absolute, drive: water}}",
)
FILTERED = text(
    "air: {state: gas, composition: {air: 100 %}, held: {as: room air}}, "
    + liquid("ethanol: 50 %, water: 50 %", "100 mL"), [*PUMPED, OUT],
    steps("duration: 10 min, flows: {air: on}, suction: {jet: on}",
          "duration: 5 min, flows: {air: off}, suction: {jet: off}"),
    "air: {reagent: air, into: flask, rate: 2 L/min, reference: ambient}", SCREEN,
)  # fmt: skip
LAMP = "ignition_sources: {lamp: {kind: flame, in: room, distance: 1 m}}"
DIOXIDE = text(
    f"{liquid('sodium hydroxide 10 %: 100 %')}, acid: {{state: liquid, composition: "
    "{sulfuric acid: 96 %, water: 4 %}, amount: 10 mL, held: {as: bottle}}, "
    f"{liquid('copper turnings: 100 %', '1 g', 'solid')}, gas: {{state: gas, composition: "
    "{sulfur dioxide: 100 %}, held: {as: generator, rate: 10 mL/min, "
    "equation: Cu(s) + 2 H2SO4 -> CuSO4 + 2 H2O + SO2}}",
    [f"{{id: flask, kind: flask, {GLASS}, capacity: 100 mL, liquid: acid, liquid_volume: 10 mL, "
     f"{TAPER}, relief: {{opens_at: 0.03 bar gauge, bore: 6 mm, length: 300 mm}}}}",
     HOSE.format("hose", "PTFE", PTFE),
     f"{{id: empty bottle, kind: safety bottle, {GLASS}, capacity: 500 mL, {PTFE}}}",
     WASHED.format(GLASS, 200, PTFE, ", absorbs: {sulfur dioxide: {efficiency: 95 %}}"), OUT],
    heated("flask", "heating mantle", 180, 220) + steps(
        "duration: 10 min, heat: {it: on}, flows: {feed: on}",
        "duration: 60 min, heat: {it: off}, flows: {feed: off}"),
    fed("10 mL/min", "flask", most="30 mL/min").replace(
        "{kind: float meter, calibration_gas: air}", "{kind: none}"),
    ", {kind: gas detector, senses: sulfur dioxide, alarm: 0.5 ppm, at: bench}",
)  # fmt: skip
PALLADIUM = (80, "C2H2 + H2 -> C2H4", "acetylene", BED.format("palladium"))

#: What is ordinary, beside what one change makes of it.
PAIRS = {
    "ammonia into acid whose strength says what it binds": (
        absorbed("ammonia", "1 %", "sulfuric acid 10 %: 100 %", "25 ppm"),
        absorbed("ammonia", "20 %", "sulfuric acid 0.1 %: 100 %", "25 ppm"),
    ),
    "chlorine into lye": (
        absorbed("chlorine", "0.2 %", "sodium hydroxide 10 %: 100 %", "0.5 ppm"),
        absorbed("chlorine", "20 %", "water: 100 %", "0.5 ppm"),
    ),
    "ethanol through a column, left to cool": (
        distilled((COLUMN,)),
        distilled((COLUMN,)).replace("- {step: 1, duration: 60 min, heat: {it: off}}\n", ""),
    ),
    "oxygen into an open jar over water": (
        over_water("joint: none"), over_water(f"open: no, {STOPPER}"),
    ),
    "water boiled in an open test tube": (
        open_tube("14 mm", "joint: none"), open_tube("14 mm, open: no", TAPER),
    ),
    "steel annealed behind a float meter": (
        in_furnace(*STEEL),
        in_furnace(*STEEL).replace("operators: 2", "operators: 1").replace(
            "{kind: second person}, ", ""
        ).replace("duration: 240 min", "duration: 600 min"),
    ),
    "titania annealed in air": (
        in_furnace("air: 100 %", 450, "titanium dioxide: 100 %", "none"),
        in_furnace("hydrogen: 100 %", 450, "titanium dioxide: 100 %", "none"),
    ),
    "cobalt oxide reduced in dilute hydrogen": (
        purged("hydrogen: 4 %, nitrogen: 96 %", *COBALT),
        purged("hydrogen: 60 %, oxygen: 15 %, nitrogen: 25 %", *COBALT),
    ),
    "toluene burnt over an oxide, by its formula": (
        purged("toluene: 0.05 %, air: 99.95 %", *TOLUENE),
        purged("toluene: 3 %, air: 97 %", *TOLUENE),
    ),
    "test gas at half its limit past an alarm": (
        text(gas("methane: 2.2 %, air: 97.8 %"), [HOSE.format("hose", "PTFE", PTFE), CAP, OUT],
             ON_OFF, fed("500 mL/min", "hose")),
        text(gas("methane: 7 %, air: 93 %"), [HOSE.format("hose", "PTFE", PTFE), CAP, OUT],
             ON_OFF, fed("500 mL/min", "hose")),
    ),
    "a solvent stirred under argon behind a higher regulator": (
        STIRRED, STIRRED.replace("inner_diameter: 8 mm}", "inner_diameter: 8 mm, open: no}"),
    ),
    "hydrogen from a flask of 250 mL behind a screen": (
        made(*ZINC, 250, SCREEN), made(*ZINC, 250).replace("height: 0.4 m", "height: 0.7 m"),
    ),
    "a counter filled with its gas": (
        COUNTED, COUNTED.replace("ignition_sources: none in the room", LAMP),
    ),
    "crystals washed with alcohol under a water jet": (
        FILTERED, FILTERED.replace("ignition_sources: none in the room", LAMP),
    ),
    "sulfur dioxide from copper and hot acid": (
        DIOXIDE, DIOXIDE.replace("outlet, to: hood", "outlet, to: room").replace(", absorbs: "
            "{sulfur dioxide: {efficiency: 95 %}}", ""),
    ),
    "chlorine into thiosulfate": (
        absorbed("chlorine", "0.2 %", "sodium thiosulfate: 10 %, water: 90 %", "0.5 ppm"),
        absorbed("chlorine", "20 %", "sodium thiosulfate: 10 %, water: 90 %", "0.5 ppm"),
    ),
    "acetylene hydrogenated over palladium": (
        purged("acetylene: 0.2 %, hydrogen: 1 %, nitrogen: 98.8 %", *PALLADIUM),
        purged("acetylene: 20 %, hydrogen: 40 %, nitrogen: 40 %", *PALLADIUM),
    ),
    "hydrogen from magnesium and vinegar": (
        made(*MAGNESIUM, 100, SCREEN), made(*SODIUM, 100, SCREEN),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", PAIRS)
def test_what_is_ordinary_is_allowed_and_what_is_dangerous_is_not(name: str) -> None:
    ordinary, dangerous = (shared_engine().review(loads(each)) for each in PAIRS[name])
    assert ordinary.verdict in PASSES
    assert len(conditions(ordinary)) <= 5, conditions(ordinary)
    assert dangerous.verdict not in PASSES
