"""Item kinds: what each does to the gas that flows through it.

Geometry a kind needs is in its `requires`; where a number is not given the result is NaN, which
shows as missing, never as nothing lost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from review import FloatArray, Gas, ItemKind, ItemView, tube_volume, voidage
from review.physics.flow import dip_head, ergun, line_loss

from ..shared.binding import surely_bound, taken_by
from ..shared.hood import UNKNOWN_BORE

#: Sharp entrance and exit of a line, velocity heads (Crane Technical Paper 410, from memory).
ENTRANCE_AND_EXIT = 1.5
#: Loss of a sharp hole over rho v^2 / 2: 1 / C^2 with a coefficient of discharge of 0.6.
SHARP_HOLE = 1 / 0.6**2

#: A bed of fibres costs no more than Ergun's bed of spheres 1.5 fibre diameters wide (equal
#: surface per volume: 6/d of spheres against 4/d of long fibres).
FIBRE_TO_SPHERE = 1.5

#: What acids bind and what lyes bind, by neutralisation.
_BASIC = frozenset({"ammonia", "methylamine", "dimethylamine", "trimethylamine", "triethylamine"})
_ACIDIC = frozenset(
    {"hydrogen chloride", "hydrogen fluoride", "hydrogen bromide", "hydrogen iodide",
     "hydrogen sulfide", "hydrogen selenide", "hydrogen cyanide", "chlorine", "bromine",
     "sulfur dioxide", "sulfur trioxide", "carbon dioxide", "nitric acid", "acetic acid",
     "formic acid", "propionic acid", "phosgene"}
)  # fmt: skip
#: Gas and absorbent pairs that are taken up, by liquid component. Water takes up gases with a
#: Henry solubility above about 0.5 mol/(kg bar) at 25 degC; bases and acids bind what they
#: neutralise; iodide and thiosulfate as in iodometry. Source: Sander, Atmos. Chem. Phys. 15 (2015)
#: 4399 (from memory). Carbon monoxide, nitric oxide, nitrous oxide, hydrogen and the hydrocarbons
#: are in none of these lists.
TAKEN_UP: dict[str, frozenset[str]] = {
    "water": frozenset(
        {"hydrogen chloride", "hydrogen fluoride", "hydrogen bromide", "hydrogen iodide",
         "sulfur dioxide", "sulfur trioxide", "formaldehyde", "methanol", "ethanol", "acetic acid",
         "formic acid", "nitric acid", "hydrogen peroxide"}
    ) | _BASIC,
    "sodium hydroxide": _ACIDIC,
    "potassium hydroxide": _ACIDIC,
    "sulfuric acid": _BASIC | {"water"},
    "hydrogen chloride": _BASIC,
    "hydrochloric acid": _BASIC,
    "phosphoric acid": _BASIC,
    "acetic acid": _BASIC,
    "potassium iodide": frozenset({"ozone", "chlorine", "bromine"}),
    # Copper sulfide falls out, in acid too (hydrogen sulfide group of qualitative analysis).
    "copper sulfate": frozenset({"hydrogen sulfide"}),
    # To sulfuric acid (EPA method 6: impingers with hydrogen peroxide of 3 %; from memory).
    "hydrogen peroxide": frozenset({"sulfur dioxide"}),
    "sodium thiosulfate": frozenset({"chlorine", "bromine", "iodine"}),
}  # fmt: skip

#: Vapours that charcoal holds: organic ones that boil above room temperature, not those of one
#: carbon atom (makers' guides of activated carbon; common practice, no single source).
_ON_CHARCOAL = frozenset(
    {"1-butanol", "2-butanol", "1-propanol", "isopropanol", "ethanol", "acetone", "2-butanone",
     "methyl isobutyl ketone", "cyclohexanone", "ethyl acetate", "butyl acetate", "n-hexane",
     "heptane", "octane", "isooctane", "decane", "cyclohexane", "benzene", "toluene",
     "ethylbenzene", "o-xylene", "m-xylene", "p-xylene", "styrene", "chlorobenzene", "chloroform",
     "carbon tetrachloride", "trichloroethylene", "tetrachloroethylene", "1,2-dichloroethane",
     "tetrahydrofuran", "1,4-dioxane", "pyridine", "bromine", "iodine"}
)  # fmt: skip
_DRIES = frozenset({"water"})
#: What dry beds hold, by the substance they are packed with (makers' guides, from memory).
ON_BEDS: dict[str, frozenset[str]] = {
    "activated carbon": _ON_CHARCOAL,
    "soda lime": frozenset(
        {"carbon dioxide", "hydrogen chloride", "hydrogen bromide", "sulfur dioxide",
         "hydrogen sulfide", "chlorine", "hydrogen fluoride"}
    ),
    "molecular sieve": _DRIES, "silica gel": _DRIES, "calcium chloride": _DRIES,
    "magnesium sulfate": _DRIES, "phosphorus pentoxide": _DRIES, "calcium oxide": _DRIES,
    "alumina": _DRIES,
}  # fmt: skip


@dataclass(frozen=True)
class Junction(ItemKind):
    """A tee, cross or fitting: holds gas, costs no pressure worth counting."""

    def volume(self, item: ItemView) -> FloatArray:
        """As of a vessel; where nothing but its bore is stated next to nothing, a ball of that."""
        said = any(map(item.has, ("gas_volume", "capacity", "height", "length")))
        return super().volume(item) if said else np.pi / 6 * item.get("inner_diameter") ** 3


@dataclass(frozen=True)
class CheckValve(Junction):
    """A valve that opens forwards at its cracking pressure and lets nothing back."""

    def static_head(self, item: ItemView) -> FloatArray:
        """Its cracking pressure above the room's."""
        room = np.nan if item.room_pressure is None else item.room_pressure
        return np.maximum(item.get("cracking_pressure") - room, 0.0)

    def holds_back(self, item: ItemView) -> FloatArray:
        """All of it, unless it leaks."""
        return item.get("holds_back")


@dataclass(frozen=True)
class Line(ItemKind):
    """A tube or hose."""

    def volume(self, item: ItemView) -> FloatArray:
        """The bore, or the stated gas volume."""
        return item.get("gas_volume") if item.has("gas_volume") else tube_volume(item)

    def pressure_loss(self, item: ItemView, gas: Gas) -> FloatArray:
        """Friction in the bore, one entrance and exit, and the packed bed in it."""
        loss = _bore_loss(item, gas, item.get("inner_diameter"), item.get("length"))
        return loss + _bed_loss(item, gas)

    def cooling_length(self, item: ItemView, heated: bool) -> FloatArray | None:
        """The whole line, or what a heater leaves bare on one side."""
        return _bare_length(item, heated)


@dataclass(frozen=True)
class Reactor(Line):
    """A tube in which declared reactions run, empty or packed."""

    def volume(self, item: ItemView) -> FloatArray:
        """The bore less its bed; one whose length nobody states takes no room from the gas."""
        packed = item.model.packing is not None and not item.has("packing.length")
        if packed and not item.has("gas_volume"):
            return np.asarray(np.pi / 4 * item.get("inner_diameter") ** 2 * item.get("length"))
        return super().volume(item)


@dataclass(frozen=True)
class Arrester(Line):
    """A flame arrester: a packed or meshed element in a short tube."""


@dataclass(frozen=True)
class Column(Line):
    """A packed column or drying tube; what it takes up is declared as for a bottle."""

    def credits_absorption(self, liquid: tuple[str, ...], substance: str) -> bool:
        """As the liquid or packing named in the file."""
        return _taken_up(liquid, substance) or any(
            substance in ON_BEDS.get(component, ()) for component in liquid
        )

    def binds(self, moles: Mapping[str, float], substance: str) -> float:
        """Two fifths of what its liquid binds by stoichiometry."""
        return surely_bound(moles, substance)

    def takes(self, moles: Mapping[str, float], bed: str | None, of: str, other: str) -> float:
        """As its liquid binds them; on soda lime mole for mole."""
        if bed == "soda lime" and {of, other} <= ON_BEDS[bed]:
            return 1.0
        return taken_by(moles, of, other)


@dataclass(frozen=True)
class Trap(ItemKind):
    """An empty vessel that catches liquid; gas passes over it, or through what it holds where a
    tube is said to dip into that: a beaker runs back as a wash bottle does."""

    def pressure_loss(self, item: ItemView, gas: Gas) -> FloatArray:
        """The dip tube; the liquid's head comes on top."""
        if not item.has("dip_depth"):
            return super().pressure_loss(item, gas)
        length, known = np.maximum(item.get("dip_depth"), 0.1), item.has("dip_tube_bore")
        bore = item.get("dip_tube_bore") if known else np.full(item.size, NARROWEST_TUBE)
        return _bore_loss(item, gas, bore, length)

    def static_head(self, item: ItemView) -> FloatArray:
        """Liquid above the dip tube's end."""
        return _head(item, item.get("dip_depth"))

    def seal_head(self, item: ItemView) -> FloatArray:
        """Head of the lift that liquid must climb to run back; unknown lift: the dip depth."""
        return _head(item, item.get("lift") if item.has("lift") else item.get("dip_depth"))

    def held_liquid(self, item: ItemView) -> FloatArray:
        """All of the liquid, unless the tube is said to end above it: `dip_depth: 0 mm`."""
        if item.model.liquid is None:
            return super().held_liquid(item)
        wet = np.nan_to_num(item.get("liquid_volume"), nan=np.inf)
        return np.where(item.get("dip_depth") <= 0, 0.0, wet)

    def vanishes(self, liquid: tuple[str, ...], substance: str) -> bool:
        """As in a wash bottle."""
        return _taken_up(liquid, substance)


def _head(item: ItemView, height: FloatArray) -> FloatArray:
    return dip_head(item.liquid_density, height) if item.has("dip_depth") else np.zeros(item.size)


@dataclass(frozen=True)
class WashBottle(Trap):
    """A bottle whose dip tube leads the gas through a liquid."""

    def held_liquid(self, item: ItemView) -> FloatArray:
        """All of the bottle's liquid."""
        return item.get("liquid_volume")

    def bath(self, item: ItemView) -> FloatArray | None:
        """The liquid's temperature."""
        return item.get("bath_temperature")

    def credits_absorption(self, liquid: tuple[str, ...], substance: str) -> bool:
        """As the list of sourced pairs says."""
        return _taken_up(liquid, substance)

    def binds(self, moles: Mapping[str, float], substance: str) -> float:
        """Two fifths of what its liquid binds by stoichiometry."""
        return surely_bound(moles, substance)

    def takes(self, moles: Mapping[str, float], bed: str | None, of: str, other: str) -> float:
        """As its liquid binds them."""
        return taken_by(moles, of, other)


@dataclass(frozen=True)
class Vessel(Trap):
    """A flask or other vessel the gas passes through, with declared reactions."""

    def cooling_length(self, item: ItemView, heated: bool) -> FloatArray | None:
        """What a flame leaves bare of a test tube or long neck, where its lengths are stated."""
        if not (heated and item.has("length") and item.has("heated_length")):
            return None
        return np.maximum(item.get("length") - item.get("heated_length"), 0.0)


@dataclass(frozen=True)
class Outlet(ItemKind):
    """Where the gas leaves the train, to hood, room or outdoors."""

    def pressure_loss(self, item: ItemView, gas: Gas) -> FloatArray:
        """As a line's where bore and length are stated, of a bore alone as a hole's in a plate;
        one that nobody measured is a hole of the narrowest usual bore."""
        bore = np.full(item.size, UNKNOWN_BORE)
        if item.has("inner_diameter"):
            bore = item.get("inner_diameter")
            if item.has("length"):
                return _bore_loss(item, gas, bore, item.get("length"))
        return _bore_loss(item, gas, bore, np.zeros_like(bore), SHARP_HOLE)

    def volume(self, item: ItemView) -> FloatArray:
        """An opening holds nothing unless a volume is stated."""
        return item.get("gas_volume") if item.has("gas_volume") else np.zeros(item.size)


@dataclass(frozen=True)
class Pump(ItemKind):
    """A pump, ejector or water jet that sucks on what stands before it."""

    def volume(self, item: ItemView) -> FloatArray:
        """It holds next to nothing unless a volume is stated."""
        return item.get("gas_volume") if item.has("gas_volume") else np.zeros(item.size)


#: Bore of a dip tube that nobody measured, m: tube of the trade is 4 mm wide and 1 mm thick at
#: the narrowest, drawn out to half of its bore (common practice, no source).
NARROWEST_TUBE = 1.0e-3
#: A vessel's room: any one of these.
VESSEL = "gas_volume|capacity|inner_diameter"

KINDS: tuple[ItemKind, ...] = (
    Junction(
        "junction", "Junction", (VESSEL,),
        synonyms=("tee", "T-piece", "Y-piece", "cross", "fitting", "manifold", "connector",
                  "stopcock", "valve", "three-way valve", "three-way stopcock", "three-way tap",
                  "needle valve", "ball valve", "tap", "adapter", "still head", "distillation head",
                  "distilling head", "Claisen head"),
    ),
    CheckValve(
        "check valve", "Check valve", (VESSEL, "cracking_pressure"), holds_liquid=False,
        synonyms=("non-return valve", "nonreturn valve", "one-way valve", "backflow preventer"),
    ),
    Line(
        "line", "Line", ("inner_diameter", "length"), holds_liquid=False, packed=True,
        synonyms=("tube", "tubing", "hose", "pipe", "connecting tube", "delivery tube", "hose line",
                  "capillary", "condenser", "reflux condenser", "vacuum hose", "vacuum tubing",
                  "gas hose", "U-tube", "Liebig condenser", "glass tube", "glass tubing",
                  "gas line", "connecting hose", "rubber hose", "silicone hose", "silicone tubing",
                  "rubber tubing", "PTFE tubing", "PTFE hose", "PVC hose", "PVC tubing",
                  "steel tube", "stainless steel tube", "copper tube",
                  "Allihn condenser", "Dimroth condenser",
                  "coil condenser", "air condenser", "West condenser", "gas delivery tube",
                  "bent tube", "gas tube", "evaporator", "vaporiser", "vaporizer", "preheater",
                  "mixer", "mixing tube", "Schlauch", "Kühler"),
    ),
    Reactor(
        "reactor", "Reactor", ("inner_diameter", "length"), holds_liquid=False, packed=True,
        synonyms=("reactor tube", "tube reactor", "reaction tube", "combustion tube", "quartz tube",
                  "ceramic tube", "furnace tube", "catalyst tube", "Quarzrohr", "Reaktor",
                  "fixed-bed reactor", "packed-bed reactor"),
    ),
    Arrester(
        "arrester", "Arrester", ("inner_diameter", "length"), holds_liquid=False, packed=True,
        synonyms=("flame arrester", "flame arrestor", "flashback arrester", "arrestor"),
    ),
    Column(
        "column", "Column", ("inner_diameter", "length"), packed=True,
        synonyms=("packed column", "drying tube", "drying column", "absorber column",
                  "packed tower", "drying tower", "absorption tube", "guard tube",
                  "calcium chloride tube", "Vigreux column", "fractionating column",
                  "Trockenrohr", "Trockenturm"),
    ),
    WashBottle(
        "wash bottle", "Wash bottle", ("liquid", "liquid_volume", VESSEL, "dip_depth"),
        presumed=(("dip_tube_bore", NARROWEST_TUBE),),
        synonyms=("gas wash bottle", "gas washing bottle", "washing bottle", "bubbler",
                  "Drechsel bottle", "oil bubbler", "gas bubbler", "bubble counter", "saturator",
                  "humidifier", "impinger", "scrubber", "trough", "pneumatic trough",
                  "wash flask", "washing flask", "absorption bottle", "Waschflasche",
                  "Gaswaschflasche", "Blasenzähler"),
    ),
    Trap(
        "trap", "Trap", (VESSEL,),
        synonyms=("safety bottle", "Woulff bottle", "catchpot", "knock-out pot", "empty bottle",
                  "cold trap", "cold finger", "suck-back trap", "gas trap", "receiver",
                  "receiving flask", "collecting flask", "safety flask", "suction bottle",
                  "Kühlfalle", "Sicherheitsflasche"),
    ),
    Vessel(
        "vessel", "Vessel", (VESSEL,), bare_ends=1,
        synonyms=("flask", "round flask", "round-bottom flask", "three-neck flask",
                  "two-neck flask", "conical flask", "Erlenmeyer flask", "beaker", "bottle",
                  "jar", "gas jar", "test tube", "boiling tube", "retort", "crucible", "dish",
                  "porcelain dish", "evaporating dish", "watch glass", "vial", "balloon",
                  "filter flask", "suction flask", "desiccator", "separating funnel",
                  "dropping funnel", "bell jar", "bowl", "tank", "can", "gas cell", "syringe",
                  "Schlenk flask", "Schlenk tube", "pear-shaped flask", "flat-bottom flask",
                  "three-necked flask", "two-necked flask", "round-bottomed flask",
                  "round bottom flask", "Büchner flask", "side-arm flask", "gas syringe",
                  "measuring cylinder", "antechamber", "gas bag", "cell", "chamber", "Erlenmeyer",
                  "boiling flask", "distilling flask", "distillation flask", "separatory funnel",
                  "flat flask", "crystallising dish", "crystallizing dish", "Petri dish", "basin",
                  "evaporating basin", "porcelain basin", "porcelain crucible", "pan", "pot",
                  "saucepan", "kettle", "tray", "tub", "bucket", "mortar", "glass jar",
                  "developing tray", "TLC chamber", "electrolysis cell", "burette",
                  "graduated cylinder", "volumetric flask", "reaction flask", "reaction vessel",
                  "container"),
    ),
    Pump(
        "pump", "Pump", ("suction",), holds_liquid=False,
        synonyms=("vacuum pump", "water-jet pump", "water jet pump", "aspirator",
                  "water aspirator", "ejector", "air ejector", "steam ejector", "membrane pump",
                  "diaphragm pump", "rotary vane pump", "oil pump", "suction pump"),
    ),
    Outlet(
        "outlet", "Outlet", ("to",), is_end=True,
        synonyms=("vent", "gas outlet", "exhaust", "end"),
    ),
)  # fmt: skip


def _taken_up(liquid: tuple[str, ...], substance: str) -> bool:
    return any(substance in TAKEN_UP.get(component, ()) for component in liquid)


def _bore_loss(
    item: ItemView,
    gas: Gas,
    bore: FloatArray,
    length: FloatArray,
    ends: float = ENTRANCE_AND_EXIT,
) -> FloatArray:
    moving = gas.total != 0
    velocity = np.where(moving, gas.volume_flow, 0.0) / (np.pi / 4 * bore**2)
    density = np.where(moving, gas.density, 1.0)
    return line_loss(velocity, density, gas.viscosity, bore, length, 0.0, ends)


def _bed_loss(item: ItemView, gas: Gas) -> FloatArray:
    """Ergun's loss of a packing; a packing without its figures is NaN, not free."""
    void = voidage(item)
    if void is None:
        return np.zeros(item.size) if item.model.packing is None else np.full(item.size, np.nan)
    if item.has("packing.particle_diameter"):
        grain = item.get("packing.particle_diameter")
    else:
        grain = FIBRE_TO_SPHERE * item.get("packing.fibre_diameter")
    length = item.get("packing.length") if item.has("packing.length") else item.get("length")
    moving = gas.total != 0
    velocity = np.where(moving, gas.volume_flow, 0.0)
    velocity = velocity / (np.pi / 4 * item.get("inner_diameter") ** 2)
    density = np.where(moving, gas.density, 1.0)
    return ergun(velocity, density, gas.viscosity, void, grain, length)


def _bare_length(item: ItemView, heated: bool) -> FloatArray:
    length = item.get("length")
    if not heated:
        return length
    zone = item.get("heated_length") if item.has("heated_length") else length
    return np.maximum(length - zone, 0.0) / 2
