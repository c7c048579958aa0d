"""The sections of a scenario file. Texts come in, SI floats and plain words come out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PrivateAttr,
    WithJsonSchema,
    field_validator,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from review.scenario import units
from review.scenario.errors import Problem, quoted
from review.scenario.units import Dimension, Stated
from review.scenario.yaml import Document, Place, Where, problem_at


@dataclass(frozen=True, slots=True)
class Dim:
    """The dimension of a field; `words` are accepted in place of a quantity."""

    dimension: Dimension
    words: tuple[str, ...] = ()
    positive: bool = False

    def read(self, given: object) -> float | Stated | str:
        """The SI value of a text, or the word. Raises ValueError naming the right spelling."""
        spec = units.SPECS[self.dimension]
        if not isinstance(given, str):
            raise ValueError(f"expected a {spec.name}, for example '{spec.example}'")
        if given in self.words:
            return given
        try:
            value = self._quantity(given)
        except ValueError as error:
            words = " or ".join(f"'{word}'" for word in self.words)
            raise ValueError(f"{error}" + (f", or {words}" if words else "")) from None
        if self.positive and (value.value if isinstance(value, Stated) else value) <= 0.0:
            raise ValueError(f"{spec.name} {quoted(given)} must be above zero")
        return value

    def _quantity(self, text: str) -> float | Stated:
        if self.dimension == "flow" or self.dimension == "quantity":
            return units.parse_stated(text, self.dimension)
        return units.parse(text, self.dimension)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        spec = units.SPECS[self.dimension]
        bare = self.dimension == "number" or self.dimension.startswith("fraction")
        words = "".join(f", or '{word}'" for word in self.words)
        return {
            "type": ["string", "number"] if bare else "string",
            "description": f"{spec.name.capitalize()}, for example '{spec.example}'{words}.",
            "examples": [spec.example, *self.words],
        }


def _name(text: str) -> str:
    if "." in text:
        raise ValueError(f"name {quoted(text)} contains '.', which separates the parts of a path")
    if ":" in text or "|" in text:
        odd = ":" if ":" in text else "|"
        raise ValueError(f"name {quoted(text)} contains {quoted(odd)}, which stands in upset names")
    return text


def _item_id(text: str) -> str:
    odd = sorted({c for c in text if not (c.isalnum() or c in " -_.")})
    if odd:
        raise ValueError(
            f"id {quoted(text)} contains {quoted(odd[0])}: "
            "use letters, digits, space, hyphen, underscore"
        )
    return _name(text)


def _one_or_more(given: object) -> object:
    return [given] if isinstance(given, str) else given


def _yes_no(given: object) -> object:
    return {"yes": True, "no": False}.get(given, given) if isinstance(given, str) else given


# Editors that follow YAML 1.1 take a bare yes or no for a boolean.
_YES_NO_SCHEMA = WithJsonSchema({"enum": ["yes", "no", True, False]})
_IDS_SCHEMA = WithJsonSchema(
    {"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}
)

Text = Annotated[str, Field(min_length=1)]
Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_name)]
ItemId = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_item_id)]
YesNo = Annotated[bool, BeforeValidator(_yes_no), Field(strict=True), _YES_NO_SCHEMA]
Ids = Annotated[list[Text], BeforeValidator(_one_or_more), _IDS_SCHEMA]

Length = Annotated[float, Dim("length")]
Position = Annotated[float, Dim("position")]
Torque = Annotated[float, Dim("torque", positive=True)]
PositiveMass = Annotated[float, Dim("mass", positive=True)]
PositiveLength = Annotated[float, Dim("length", positive=True)]
Volume = Annotated[float, Dim("volume")]
PositiveVolume = Annotated[float, Dim("volume", positive=True)]
Mass = Annotated[float, Dim("mass")]
Amount = Annotated[float, Dim("amount")]
PositiveTime = Annotated[float, Dim("time", positive=True)]
Temperature = Annotated[float, Dim("temperature")]
Pressure = Annotated[float, Dim("pressure")]
AbsolutePressure = Annotated[float, Dim("pressure_absolute", positive=True)]
Flowing = Annotated[Stated, Dim("flow")]
Quantity = Annotated[Stated, Dim("quantity")]
Fraction = Annotated[float, Dim("fraction")]
PositiveFraction = Annotated[float, Dim("fraction", positive=True)]
FractionOrRest = Annotated[float, Dim("fraction", words=("rest",))]
Setting = Annotated[Stated | Literal["on", "off"], Dim("flow", words=("on", "off"))]
HeatSetting = Annotated[float | Literal["on", "off"], Dim("temperature", words=("on", "off"))]
LightOff = Annotated[
    float | Literal["none", "unknown"], Dim("temperature", words=("none", "unknown"))
]
PerTime = Annotated[float, Dim("rate_per_time")]
Number = Annotated[float, Dim("number", positive=True)]
Speed = Annotated[float, Dim("speed")]
Density = Annotated[float, Dim("density", positive=True)]
Power = Annotated[float, Dim("power")]


class Model(BaseModel):
    """Base of all sections: frozen, and an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, use_attribute_docstrings=True)


class Ambient(Model):
    """The room during the run."""

    temperature: Temperature = 293.15
    pressure: AbsolutePressure = units.ATMOSPHERE


class Held(Model):
    """How a reagent is held ready."""

    as_: Literal["cylinder", "bottle", "generator"] = Field(alias="as")
    volume: PositiveVolume | None = None
    pressure: Pressure | None = None
    regulator: Pressure | None = None
    """Pressure the regulator is set to."""
    equation: Text | None = None
    """What a generator does, as a reaction equation."""
    rate: Flowing | None = None
    """What a generator gives off."""


class Reagent(Model):
    """One reagent. The basis of its composition defaults to mole for a gas, else to mass."""

    state: Literal["gas", "liquid", "solid"]
    basis: Literal["mole", "mass", "volume"] = "mole"
    """What the fractions count; default: mole for a gas, mass for a liquid or solid."""
    composition: dict[Name, FractionOrRest] = Field(min_length=1)
    """Substances and their fractions; they add to 100 %, one may be `rest`."""
    amount: Quantity | None = None
    density: Density | None = None
    held: Held | None = None

    @model_validator(mode="before")
    @classmethod
    def _default_basis(cls, given: Any) -> Any:
        if isinstance(given, Mapping) and "basis" not in given:
            return {**given, "basis": "mole" if given.get("state") == "gas" else "mass"}
        return given

    @field_validator("composition", mode="after")
    @classmethod
    def _whole(cls, given: dict[str, Any]) -> dict[str, Any]:
        rest = [name for name, share in given.items() if share == "rest"]
        total = sum(share for share in given.values() if share != "rest")
        if len(rest) > 1:
            raise ValueError("only one component may be 'rest'")
        if total > 1.001 or (not rest and total < 0.999):
            raise ValueError(f"fractions add to {100 * total:.4g} %, not 100 %")
        return {name: max(0.0, 1.0 - total) if name in rest else given[name] for name in given}


class Reference(Model):
    """The condition at which a volume flow is stated; a word stands for temperature and pressure.

    `normal` is 0 degC and 1 atm, `standard` 20 degC and 1 atm; with `ambient` both are None and
    the scenario's ambient counts.
    """

    temperature: Temperature | None = None
    pressure: AbsolutePressure | None = None

    @model_validator(mode="before")
    @classmethod
    def _word(cls, given: Any) -> Any:
        words = {"normal": "0 degC", "standard": "20 degC"}
        if given == "ambient":
            return {}
        if isinstance(given, str):
            if given not in words:
                raise ValueError(
                    f"{quoted(given)} is no reference condition: write 'normal', 'standard', "
                    "'ambient' or {temperature: 20 degC, pressure: 1 atm}"
                )
            return {"temperature": words[given], "pressure": "1 atm"}
        if isinstance(given, Mapping):
            lacking = [key for key in ("temperature", "pressure") if key not in given]
            if lacking:
                raise ValueError(f"a reference condition needs its {lacking[0]}")
        return given

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        mapping = handler.resolve_ref_schema(handler(schema))
        return {"anyOf": [{"enum": ["normal", "standard", "ambient"]}, mapping]}


class Instrument(Model):
    """What measures or sets a flow, and what it was calibrated for."""

    kind: Literal["float meter", "mass flow controller", "none"]
    calibration_gas: Text | None = None
    calibration_temperature: Temperature | None = None
    calibration_pressure: Pressure | None = None
    gas_temperature: Temperature | None = None
    gas_pressure: Pressure | None = None


class Flow(Model):
    """One feed: a reagent that enters the train at an item."""

    reagent: Text
    into: Text
    rate: Flowing
    reference: Reference | None = None
    """Condition of a volume flow: normal | standard | ambient | its temperature and pressure."""
    instrument: Instrument | None = None
    accuracy: Fraction | None = None
    at_most: Flowing | None = None
    """Most it can deliver when its control fails."""
    shut_off_pressure: Pressure | None = None
    on_power_loss: Literal["stays", "closes", "opens"] | None = None
    """What its control does when the power fails; not known: a controller may do either."""


class Absorbed(Model):
    """How much of a substance a liquid takes up, and until when."""

    efficiency: Fraction
    capacity: Amount | None = None


class Packing(Model):
    """What fills an item."""

    voidage: PositiveFraction | None = None
    particle_diameter: PositiveLength | None = None
    fibre_diameter: PositiveLength | None = None
    length: PositiveLength | None = None


class Reaction(Model):
    """A declared reaction; selectivity is the share of what converts that goes this way."""

    equation: Text
    limiting: Text
    conversion: Fraction
    selectivity: Fraction = 1.0


class ItemModel(Model):
    """One element of the gas train; which fields it needs depends on its kind."""

    id: ItemId
    kind: Text
    from_: Ids = Field(default=[], alias="from")
    """Upstream items; default: the previous item in the list."""
    share: dict[str, Fraction] = {}
    """Share of an upstream item's gas that comes here, by upstream id; default: equal shares."""
    material: Text | None = None
    lining: Text | None = None
    inner_diameter: PositiveLength | None = None
    wall: PositiveLength | None = None
    length: PositiveLength | None = None
    heated_length: Length | None = None
    height: PositiveLength | None = None
    home_made: Literal["yes", "no", "unknown"] = "unknown"
    ends: Literal["round", "flat", "open"] | None = None
    flat_end_thickness: PositiveLength | None = None
    rating: Pressure | None = None
    joint: Text | None = None
    """How it is joined to its neighbours: a kind of joint, or `none` where it is one piece."""
    joint_rating: Pressure | None = None
    """What the joint holds by its maker's word."""
    joint_material: Text | None = None
    """What seals the joint: stopper, ring or hose; default: what the kind of joint implies."""
    guard: YesNo = False
    """Whether hands are kept off it by a guard or it is marked as hot."""
    orientation: Literal["horizontal", "vertical", "inclined"] | None = None
    gas_volume: Volume | None = None
    liquid: Text | None = None
    liquid_volume: Volume | None = None
    dip_depth: Length | None = None
    """Depth of the dip tube's end below the liquid surface."""
    dip_tube_bore: PositiveLength | None = None
    lift: Length | None = None
    """Height the liquid must rise to leave the bottle backwards."""
    bath_temperature: Temperature | None = None
    absorbs: dict[Name, Absorbed] = {}
    packing: Packing | None = None
    mesh_opening: PositiveLength | None = None
    channel_diameter: PositiveLength | None = None
    reactions: list[Reaction] = []
    temperature: Temperature | None = None
    open: YesNo = True
    """Whether the valve is open."""
    to: Literal["hood", "room", "outdoors"] | None = None
    at_open_end: YesNo | None = None
    """Whether air reaches it."""


class Heat(Model):
    """One heat source: what it heats, its setting, and the hottest it can get."""

    heats: Text
    kind: Text
    set_temperature: Temperature | None = None
    hottest: Temperature | None = None
    cooling_time: PositiveTime | None = None
    """Time constant of cooling (to 1/e)."""
    power: Power | None = None
    insulation: Text | None = None
    insulation_thickness: PositiveLength | None = None
    outer_diameter: PositiveLength | None = None
    """Outside diameter, insulation included."""
    casing: Text | None = None
    """Material of its outside; default: bright metal, the worst to touch."""
    fuel: Text | None = None
    """The reagent a burner burns."""
    fuel_rate: Flowing | None = None
    """How much of it, at 20 degC and 1 atm where it is a volume."""
    on_power_loss: Literal["off", "stays"] | None = None
    """What it does when the power fails; default: a burner stays, all else goes off."""


class Catalyst(Model):
    """A catalyst in an item."""

    in_: Text = Field(alias="in")
    mass: Mass | None = None
    light_off: LightOff = "unknown"
    maximum_temperature: Temperature | None = None
    """Highest temperature it bears by its maker's word."""


class Hood(Model):
    """The hood that outlets lead into."""

    kind: Literal["fume hood", "canopy", "kitchen", "ductless"] = "fume hood"
    opening_width: PositiveLength | None = None
    opening_height: PositiveLength | None = None
    face_velocity: Speed | None = None
    """Mean speed of the air through the opening, sash as it stands during the run."""
    tested: Literal["yes", "no", "unknown"] = "unknown"
    """Whether its containment was tested with a tracer gas as it is used (ASHRAE 110)."""
    heat_inside: Literal["yes", "no", "unknown"] = "unknown"
    """Whether a flame or furnace stands inside; unknown counts as yes where there is one."""
    exhaust: Text | None = None
    """Where the exhaust goes."""


class Ventilation(Model):
    """Room and hood."""

    on_power_loss: Literal["stops", "stays"] | None = None
    """What it does when the power fails; default: it stops."""
    room_volume: PositiveVolume | None = None
    air_changes: PerTime | None = None
    mixing_factor: Number | None = None
    """How many times less than stated the air changes count, 1 or more. With it the room is taken
    as mixed; without it, as a near field beside the source and the rest of the room."""
    near_field_radius: PositiveLength | None = None
    """Radius of the half sphere around the source in which people breathe; default 0.5 m."""
    air_speed: Speed | None = None
    """Speed of the room's random air movement beside the source; default 0.05 m/s."""
    hood: Hood | None = None

    @field_validator("mixing_factor", mode="after")
    @classmethod
    def _slows(cls, given: float | None) -> float | None:
        if given is not None and given < 1.0:
            raise ValueError(
                f"mixing factor {given:g} is below 1: write how many times less the air changes "
                f"count, here {1 / given:.3g}"
            )
        return given


class Foot(Model):
    """Where one foot stands on the bench."""

    x: Position
    y: Position


class FrameMass(Model):
    """One thing the frame carries or consists of, as a mass at a place."""

    mass: PositiveMass
    x: Position
    y: Position
    height: Length
    """Height of its centre of mass above the bench."""
    liquid: Mass | None = None
    """How much of the mass is liquid that may not be there."""


class Rod(Model):
    """An upright rod, held at its foot."""

    diameter: PositiveLength
    height: PositiveLength
    material: Text | None = None


class Clamp(Model):
    """A clamp on a rod, by its boss head."""

    rod: Text
    height: PositiveLength
    reach: PositiveLength
    """Distance from the rod to the centre of mass of what it carries."""
    carries: PositiveMass
    holding_torque: Torque | None = None
    """What the boss head holds before it turns or slips, by measurement or its maker's word."""


class Frame(Model):
    """What holds the apparatus up; x and y are any two directions at right angles on the bench."""

    feet: dict[Name, Foot] = Field(min_length=3)
    masses: dict[Name, FrameMass] = Field(min_length=1)
    rods: dict[Name, Rod] = {}
    clamps: dict[Name, Clamp] = {}
    push_height: PositiveLength | None = None
    """Height at which somebody may push or a hose may tug; default: the highest mass."""


class Step(Model):
    """One stage of the procedure; a setting persists until it is changed."""

    step: Name
    duration: PositiveTime
    flows: dict[str, Setting] = {}
    heat: dict[str, HeatSetting] = {}
    note: Text | None = None


class Safeguard(Model):
    """A claimed protective measure: its kind, what it does, and whatever else there is to say.

    What `reveals` failures is looked at before a step; what `closes` flows does so within its
    response time. Credit is given only where it is shown to be quick enough.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, Text]

    kind: Text
    senses: Text | None = None
    alarm: Text | None = None
    at: Text | None = None
    reveals: Annotated[list[Text], BeforeValidator(_one_or_more)] = []
    """Flows, heat sources, items or `ventilation` whose failure it shows."""
    before: Text | None = None
    """The step before which it is looked at; default: before every step."""
    takes: PositiveTime | None = None
    """How long looking and acting takes."""
    closes: Annotated[list[Text], BeforeValidator(_one_or_more)] = []
    """Flows that it closes by itself or that somebody closes on its alarm."""
    response_time: PositiveTime | None = None
    """From the failure to the closed valve, at the longest."""


class TimeWindow(Model):
    """The least and the most the user wants."""

    least: PositiveTime | None = None
    most: PositiveTime | None = None


class Intent(Model):
    """The user's own process limits."""

    contact_time: TimeWindow | None = None


class Scenario(Model):
    """One set-up and how it will be run; all numbers in SI."""

    title: Text
    purpose: Text | None = None
    prepared_by: Text | None = None
    operators: Number | None = None
    duration: PositiveTime | None = None
    ambient: Ambient = Ambient()
    reagents: dict[Name, Reagent] = {}
    flows: dict[Name, Flow] = {}
    train: list[ItemModel] = Field(min_length=1)
    heat: dict[Name, Heat] = {}
    catalysts: dict[Name, Catalyst] = {}
    ventilation: Ventilation | None = None
    frame: Frame | None = None
    procedure: list[Step] = []
    safeguards: list[Safeguard] = []
    intent: Intent | None = None

    _document: Document | None = PrivateAttr(default=None)

    @model_validator(mode="before")
    @classmethod
    def _upstream(cls, given: Any) -> Any:
        """Fill in `from` where it is left out: the previous item, nothing for the first."""
        train = given.get("train") if isinstance(given, Mapping) else None
        if not isinstance(train, list):
            return given
        filled = []
        for previous, item in zip([None, *train], train, strict=False):
            if isinstance(item, Mapping) and "from" not in item:
                before = previous.get("id") if isinstance(previous, Mapping) else None
                item = {**item, "from": [before] if isinstance(before, str) and before else []}
            filled.append(item)
        return {**given, "train": filled}

    @property
    def path(self) -> str:
        """The file it was read from, '' if it was not read from one."""
        return self._document.file if self._document else ""

    @property
    def text_sha256(self) -> str:
        """SHA-256 of the file's bytes, '' if it was not read from one."""
        return self._document.sha256 if self._document else ""

    @property
    def places(self) -> dict[Where, Place]:
        """Where each value stands in the file, by path of keys and list indices."""
        return self._document.places if self._document else {}

    def item(self, id: str) -> ItemModel:
        """The item of that id; KeyError if there is none."""
        for item in self.train:
            if item.id == id:
                return item
        raise KeyError(id)

    def reference(self, flow: str) -> tuple[float, float]:
        """Temperature (K) and absolute pressure (Pa) at which a flow's volume is stated.

        Ambient where the flow states no reference or says `ambient`.
        """
        stated = self.flows[flow].reference
        if stated is None or stated.temperature is None or stated.pressure is None:
            return self.ambient.temperature, self.ambient.pressure
        return stated.temperature, stated.pressure

    def problem(
        self, path: Where | str, message: str, suggestion: str = "", *, at_key: bool = False
    ) -> Problem:
        """A problem at a path of the file, for later stages to raise in an InputError.

        The path is a tuple of keys and indices, or dotted as `numbers` writes it; an item's id and
        a step's name may stand for their index. An unknown path gives the nearest enclosing place.
        With `at_key` the last key itself is meant, not its value.
        """
        parts: list[str | int] = list(path.split(".") if isinstance(path, str) else path)
        if len(parts) > 1 and isinstance(parts[1], str):
            names: list[str] = []
            if parts[0] == "train":
                names = [item.id for item in self.train]
            elif parts[0] == "procedure":
                names = [step.step for step in self.procedure]
            if parts[1] in names:
                parts[1] = names.index(parts[1])
        if len(parts) > 3 and parts[2] == "reactions":
            parts[3] = int(parts[3])
        keys = self._document.keys if at_key and self._document else self.places
        return problem_at(self.path, keys, tuple(parts), message, suggestion)
