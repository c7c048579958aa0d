"""The sections of a scenario that say what it is built of: the train, its heat and catalysts."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from math import pi
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from review.scenario.errors import Misspelt
from review.scenario.fields import (
    Amount,
    Flowing,
    Fraction,
    Ids,
    ItemId,
    Length,
    LightOff,
    Mass,
    Model,
    Name,
    PositiveFraction,
    PositiveLength,
    PositiveTime,
    PositiveVolume,
    Power,
    Pressure,
    Rating,
    SupplyPressure,
    Temperature,
    Text,
    VacuumRating,
    Volume,
    YesNo,
)
from review.scenario.sizes import filled, sold
from review.scenario.words import Known, OfList, folded, listed


class Absorbed(Model):
    """How much of a substance a liquid takes up, and until when."""

    efficiency: Fraction
    capacity: Amount | None = None


class Packing(Model):
    """What fills an item."""

    material: Text | None = None
    """What it is made of: a material or a substance."""
    voidage: PositiveFraction | None = None
    particle_diameter: PositiveLength | None = None
    fibre_diameter: PositiveLength | None = None
    length: PositiveLength | None = None

    @property
    def is_bed(self) -> bool:
        """Whether it has figures of a bed that gas goes through; else it may lie loose."""
        figures = (self.voidage, self.particle_diameter, self.fibre_diameter, self.length)
        return any(figure is not None for figure in figures)


class Suction(Model):
    """How a pump sucks; what it draws in normal use is what flows into the train before it."""

    can_draw: Flowing | None = None
    """Most that it draws, at the room's temperature and pressure."""
    lowest_pressure: VacuumRating = 0.0
    """Lowest that it reaches with its inlet shut; not stated: full vacuum."""
    drive: Literal["water", "compressed air", "steam", "motor"] | None = None
    """What drives it and can come back through it; not stated: what is worse of motor and water."""
    drive_pressure: SupplyPressure | None = None
    """Of the compressed air or steam that drives it."""


#: One term on the left of an equation: its count, its name, its phase.
ALONE = re.compile(
    r"^\s*[\d.]*\s*(?P<name>\S(?:(?!\s\+\s|->|→).)*?)\s*(?:\((?:s|l|g|aq)\))?\s*(?:->|→)"
)

#: A term that says it is no gas, and what stands between the two sides.
CONDENSED, ARROW = re.compile(r"\((?:s|l|aq)\)\s*$"), re.compile("->|→")


class Reaction(Model):
    """A declared reaction; selectivity is the share of what converts that goes this way."""

    equation: Text
    limiting: Text
    conversion: Fraction
    selectivity: Fraction = 1.0

    @model_validator(mode="before")
    @classmethod
    def _only_one(cls, given: Any) -> Any:
        """What stands alone on the left limits the reaction, or is the only gas there."""
        if not isinstance(given, Mapping) or "limiting" in given:
            return given
        left, *right = ARROW.split(str(given.get("equation", "")), maxsplit=1)
        gases = [term for term in left.split(" + ") if not CONDENSED.search(term)]
        only = gases[0] if len(gases) == 1 else left
        alone = ALONE.match("->".join((only, *right)))
        return {**given, "limiting": alone["name"]} if alone else given


class Reactions(list[Reaction]):
    """The declared reactions of an item, and whether the file says that there are none.

    >>> Reactions().stated_none
    False
    """

    stated_none: bool = False

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_wrap_validator_function(cls._read, handler(list[Reaction]))

    @classmethod
    def _read(cls, given: Any, handler: Callable[[Any], list[Reaction]]) -> Reactions:
        """An empty list states nothing; the word does."""
        read = cls([] if given == "none" else handler(given))
        read.stated_none = given == "none"
        return read

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"anyOf": [handler(schema), {"const": "none"}]}


#: Longest vent line that a bench has, m; what is longer has to be stated (a judgement).
LONGEST_VENT = 5.0


class Relief(Model):
    """What lets gas out of an item before it bursts."""

    opens_at: SupplyPressure
    """Pressure at which it is fully open: of a thistle funnel, the column its stem can hold; of a
    valve its set pressure and 10 % or 0.1 bar more, whichever is more (ISO 4126-1, memory)."""
    bore: PositiveLength
    """Narrowest width of the way out through it."""
    length: PositiveLength = LONGEST_VENT
    """Length of that way, vent line included; not stated: as long as one on a bench ever is."""
    to: Literal["hood", "outdoors"] | None = None
    """Where its vent line leads; not stated: it blows out where its item stands."""


#: Ware that has no neck, so that its mouth is as wide as itself.
OPEN_WARE = frozenset((
    "beaker", "low beaker", "low-form beaker", "dish", "porcelain dish", "evaporating dish",
    "watch glass", "crucible", "bowl", "jar", "gas jar", "measuring cylinder", "test tube",
    "boiling tube", "trough", "pneumatic trough", "crystallising dish", "crystallizing dish",
    "petri dish", "basin", "evaporating basin", "porcelain basin", "porcelain crucible", "pan",
    "pot", "saucepan", "tray", "tub", "bucket", "mortar", "developing tray", "graduated cylinder",
))  # fmt: skip
#: Flasks whose neck is known: 22 mm outside from 50 mL on, with walls of at most 2 mm; m and m3.
NECKED = frozenset(("conical flask", "erlenmeyer flask", "erlenmeyer"))
NECK, NECKED_FROM = 0.018, 5.0e-5

#: What an item may be said to have none of; that is the same as leaving it out.
ITEM_NONE_OF = ("relief", "liquid", "packing", "absorbs", "suction", "joint_material")


class ItemModel(Model):
    """One element of the gas train; which fields it needs depends on its kind."""

    id: ItemId
    kind: Annotated[Text, listed("item")]
    in_: Literal["hood", "room", "outdoors"] | None = Field(alias="in", default=None)
    """Where it stands, so where what leaks from it goes; not stated: in the room."""
    size: Annotated[Text, AfterValidator(sold)] | None = None
    """A trade size that fills dimensions not given, such as `hose 8x12` or `250 mL round flask`."""
    from_: Ids = Field(default=[], alias="from")
    """Upstream items; default: the previous item in the list."""
    share: dict[str, Fraction] = {}
    """Share of an upstream item's gas that comes here, by upstream id; default: equal shares."""
    material: Annotated[Text, listed("material")] | None = None
    lining: Annotated[Text, listed("material")] | None = None
    inner_diameter: PositiveLength | None = None
    wall: PositiveLength | None = None
    outer_diameter: PositiveLength | None = None
    """Fills the wall where the bore is given, and the bore where the wall is; counts only so."""
    length: PositiveLength | None = None
    heated_length: Length | None = None
    height: PositiveLength | None = None
    home_made: Literal["yes", "no", "unknown"] = "unknown"
    beside_frame: Literal["yes", "no"] = "no"
    """Whether it stands on the bench by itself, so that the frame carries nothing of it."""
    ends: Literal["round", "flat", "open"] | None = None
    flat_end_thickness: PositiveLength | None = None
    rating: Rating | None = None
    vacuum_rating: VacuumRating | None = None
    """Lowest pressure inside that it bears by its maker's word, or `full vacuum`."""
    suction: Suction | None = None
    """Of a pump: what it sucks."""
    joint: Annotated[Text, listed("joint")] | None = None
    """How it is joined to its neighbours: a kind of joint, or `none` where it is one piece."""
    joint_rating: Rating | None = None
    """What the joint holds by its maker's word."""
    joint_maximum_temperature: Temperature | None = None
    """How hot the joint may get by its maker's word."""
    relief: Relief | None = None
    """A thistle funnel, liquid seal or relief valve that opens to where the item stands."""
    cracking_pressure: Pressure | None = None
    """Pressure at which a check valve opens forwards; backwards it lets nothing through."""
    joint_material: Text | None = None
    """What seals the joint: stopper, ring or hose; default: what the kind of joint implies."""
    guard: YesNo = False
    """Whether hands are kept off it by a guard or it is marked as hot."""
    orientation: Literal["horizontal", "vertical", "inclined"] | None = None
    gas_volume: Volume | None = None
    """Gas in it; of a vessel also from its capacity or its dimensions, less its liquid."""
    capacity: PositiveVolume | None = None
    """Volume of the empty vessel."""
    liquid: Text | None = None
    liquid_volume: Volume | None = None
    mouth: PositiveLength | None = None
    """Width of its narrowest opening, where a liquid can evaporate."""
    below_rim: PositiveLength | None = None
    """How deep the liquid stands below the rim, still, unheated and with nothing bubbled in."""
    heat_leak: Power | None = None
    """Heat that reaches a boiling or cold liquid from outside; not stated: all boils off at once
    within the step."""
    coolant_temperature: Temperature | None = None
    """Of what runs through a condenser's jacket: only with it does the condenser condense."""
    cooling_power: Power | None = None
    """Most heat that the condenser takes up."""
    dip_depth: Length | None = None
    """Depth of the dip tube's end below the liquid surface."""
    dip_tube_bore: PositiveLength | None = None
    """Inside width of its dip tube; default: the narrowest that is used."""
    lift: Length | None = None
    """Height the liquid must rise to leave the bottle backwards."""
    bath_temperature: Temperature | None = None
    absorbs: dict[Name, Absorbed] = {}
    packing: Packing | None = None
    mesh_opening: PositiveLength | None = None
    channel_diameter: PositiveLength | None = None
    reactions: Reactions = Field(default_factory=Reactions)
    """What reacts in it; the word `none` is the statement that nothing does."""
    temperature: Temperature | None = None
    open: YesNo = True
    """Whether the valve is open."""
    to: Literal["hood", "room", "outdoors"] | None = None
    at_open_end: YesNo | None = None
    """Whether air reaches it."""

    @model_validator(mode="before")
    @classmethod
    def _sized(cls, given: Any) -> Any:
        if isinstance(given, Mapping):
            given = {k: v for k, v in given.items() if v != "none" or k not in ITEM_NONE_OF}
        try:
            return filled(given) if isinstance(given, Mapping) else given
        except Misspelt as wrong:
            try:
                sold(str(given["size"]))
            except Misspelt:  # told at the size itself
                return given
            raise wrong from None

    @property
    def open_width(self) -> float:
        """How wide its mouth is at least by the word for it, m, where nothing closes it; else 0.

        Ware without a neck is as wide as itself: of a stated volume, as a cylinder eight times as
        tall as wide. The neck of a conical flask is the narrow one of ISO 1773 (from memory).
        """
        words = {folded(self.kind), folded((self.size or "").partition("L ")[2])}
        room = self.capacity or self.gas_volume or 0.0
        if words & OPEN_WARE:
            return self.inner_diameter or (room / (2 * pi)) ** (1 / 3)
        return NECK if words & NECKED and room >= NECKED_FROM else 0.0


class Heat(Model):
    """One heat source: what it heats, its setting, and the hottest it can get."""

    heats: Text
    kind: Annotated[Known, OfList("heat")]
    set_temperature: Temperature | None = None
    hottest: Temperature | None = None
    cooling_time: PositiveTime | None = None
    """Time constant of cooling (to 1/e)."""
    power: Power | None = None
    distance: PositiveLength | None = None
    """From its flame or hot surface to the nearest place where gas leaves or may leak; not stated:
    near."""
    insulation: Text | None = None
    """What it is wrapped in: a material, or `none` where it is bare."""
    insulation_thickness: PositiveLength | None = None
    """With it belong `outer_diameter` and `casing`."""
    outer_diameter: PositiveLength | None = None
    """Outside diameter, insulation included."""
    casing: Annotated[Text, listed("material")] | None = None
    """Material of its outside, such as steel; default: bright metal, the worst to touch; round
    insulation that has a thickness it is not known."""
    liquid: Text | None = None
    """What an oil bath is filled with: a substance."""
    fuel: Text | None = None
    """The reagent a burner burns."""
    fuel_rate: Flowing | None = None
    """How much of it, at 20 degC and 1 atm where it is a volume."""
    on_power_loss: Literal["off", "stays"] | None = None
    """What it does when the power fails; default: a burner stays, all else goes off."""
    on_power_return: Literal["starts", "stays off"] | None = None
    """What it does when the power comes back; default: it starts again by itself."""

    @property
    def energy(self) -> str:
        """What it burns or uses: `electric`, `flame` or `bath`, as its kind has it."""
        return self.kind.mark("energy")

    @property
    def draughty(self) -> bool:
        """Whether its warm air carries gas out of a hood."""
        return self.kind.mark("draught") == "strong"


class Catalyst(Model):
    """A catalyst in an item."""

    in_: Text = Field(alias="in")
    form: Annotated[Known, OfList("catalyst form")] | None = None
    material: Text | None = None
    """What it is made of, a substance or a material; default: the catalyst's own name."""
    mass: Mass | None = None
    light_off: LightOff = "unknown"
    maximum_temperature: Temperature | None = None
    """Highest temperature it bears by its maker's word."""
