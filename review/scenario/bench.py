"""The sections of a scenario that say where it stands and how it is run."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationInfo,
    field_validator,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from review.scenario import units
from review.scenario.errors import Misspelt, quoted
from review.scenario.fields import (
    ByKind,
    HeatSetting,
    Length,
    Mass,
    Model,
    Name,
    Number,
    PerTime,
    Position,
    PositiveLength,
    PositiveMass,
    PositiveTime,
    PositiveVolume,
    Setting,
    Speed,
    Temperature,
    Text,
    Torque,
    one_or_more,
    room_of,
)
from review.scenario.units import Dimension, Stated
from review.scenario.words import Known, OfList, Words, folded

_OF_LOWER_LIMIT = re.compile(r"(.+?)\s*(?:of\s+)?(?:the\s+)?(?:LFL|LEL|lower (?:flammable )?limit)")


FUME_HOOD = "fume hood"


class Hood(Model):
    """The hood that outlets lead into."""

    kind: Annotated[Known, OfList("hood")] | None = None
    """Not stated: a fume hood where its containment was tested, else nothing that draws."""
    opening_width: PositiveLength | None = None
    opening_height: PositiveLength | None = None
    face_velocity: Speed | None = None
    """Mean speed of the air through the opening, sash as it stands during the run."""
    tested: Literal["yes", "no", "unknown"] = "unknown"
    """Whether its containment was tested with a tracer gas as it is used (ASHRAE 110): a test of
    fume hoods that blow outdoors."""
    heat_inside: Literal["yes", "no", "unknown"] = "unknown"
    """Whether a flame or furnace stands inside; unknown counts as yes where there is one. A flame
    takes all of the hood's credit, a furnace most of it; a bath, mantle or hot plate nothing."""
    exhaust: Annotated[Known, OfList("exhaust")] | None = None
    """Where the exhaust goes: `outdoors`, or back into the `room`."""

    @field_validator("tested")
    @classmethod
    def _of_fume_hoods(cls, given: str, info: ValidationInfo) -> str:
        kind = info.data.get("kind")
        if given == "yes" and kind not in (None, FUME_HOOD):
            raise ValueError(f"it is a test of fume hoods, not of a {kind!s} hood: leave it out")
        return given

    @field_validator("exhaust")
    @classmethod
    def _leads_out(cls, given: Known | None, info: ValidationInfo) -> Known | None:
        said = info.data.get("kind") == FUME_HOOD or info.data.get("tested") == "yes"
        if given == "room" and said:
            raise ValueError(
                "a fume hood, and what is tested as one, blows outdoors: one whose air comes back "
                "is `kind: ductless`, without `tested: yes`"
            )
        return given

    @property
    def is_fume_hood(self) -> bool:
        """Stated, or tested as only fume hoods are."""
        return self.kind == FUME_HOOD or (self.kind is None and self.tested == "yes")

    @property
    def returns(self) -> bool:
        """Whether its air comes back into the room; it does unless stated, but for a fume hood."""
        return self.exhaust == "room" or (self.exhaust is None and not self.is_fume_hood)


class IgnitionSource(Model):
    """Something that can light gas and is no heat source of this set-up."""

    kind: Literal["flame", "spark", "hot surface"]
    in_: Literal["hood", "room"] | None = Field(alias="in", default=None)
    """Not stated: in either."""
    distance: PositiveLength | None = None
    """To the nearest place where gas leaves or may leak; not stated: near."""


class LookFor(Model):
    """A sign the operator looks for: what it means and what to do."""

    sign: Text
    at: Text | None = None
    """The item or flow where it is seen."""
    means: Text
    do: Text


class Ventilation(Model):
    """Room and hood."""

    on_power_loss: Literal["stops", "stays"] | None = None
    """What it does when the power fails; default: it stops."""
    on_power_return: Literal["starts", "stays off"] | None = None
    """What it does when the power comes back; default: it stays off."""
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
    suction: dict[str, Literal["on", "off"]] = {}
    """Pumps; one that no step names runs in all of them."""
    valves: dict[str, Text] = {}
    """Positions of valves: `open`, `closed`, or of a three-way valve the item it leads to or comes
    from. A position stays until it is changed."""
    hold: Annotated[list[Text], BeforeValidator(one_or_more)] = []
    """Hold point: flows that are proven to come, by eye or interlock, before anything in this step
    is switched."""
    lifted: Annotated[list[Text], BeforeValidator(one_or_more)] = []
    """Items out of whose liquid the end of the line is lifted before anything in this step is
    switched, and from then on: gas leaves there into the open air, and no liquid is drawn back."""
    note: Text | None = None

    @field_validator("flows", mode="after")
    @classmethod
    def _none_is_off(cls, given: dict[str, Any]) -> dict[str, Any]:
        """A flow of nothing is off, whichever way it is said."""
        off = {name for name, said in given.items() if isinstance(said, Stated) and not said.value}
        return {name: "off" if name in off else said for name, said in given.items()}


@dataclass(frozen=True, slots=True)
class Alarm:
    """What a safeguard acts at: Pa absolute, a mole fraction, a share of the lower flammable limit
    or K, and the text that says so."""

    value: float
    of: Literal["pressure", "fraction", "lower limit", "temperature"]
    text: str

    def __str__(self) -> str:
        return self.text

    @classmethod
    def read(cls, given: object, room: float = units.ATMOSPHERE) -> Alarm:
        """Raises ValueError naming right spellings."""
        wrong = "write for example '50 ppm', '10 % LFL', '0.1 bar gauge' or '80 degC'"
        if not isinstance(given, str) or not given:
            raise ValueError(f"expected an alarm point: {wrong}")
        share = _OF_LOWER_LIMIT.fullmatch(given)
        if share:
            return cls(units.parse(share[1], "fraction"), "lower limit", given)
        kinds: tuple[tuple[Dimension, Any], ...] = (
            ("fraction", "fraction"), ("pressure", "pressure"), ("temperature", "temperature"),
        )  # fmt: skip
        for dimension, of in kinds:
            with suppress(ValueError):
                return cls(units.parse(given, dimension, room), of, given)
        raise ValueError(f"{quoted(given)} is no alarm point: {wrong}")

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.with_info_plain_validator_function(
            lambda given, info: cls.read(given, room_of(info))
        )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        examples = ["50 ppm", "10 % LFL", "0.1 bar gauge", "80 degC"]
        return {"type": "string", "examples": examples}


#: What people call a detector of one gas: `methane detector`, `CO alarm`.
DETECTOR = re.compile(r"(\S.*?)(?: gas)? (?:detector|alarm|monitor|sensor)", re.IGNORECASE)


class Safeguard(ByKind, Model):
    """A claimed protective measure: its kind, what it does, and whatever else there is to say.

    What `reveals` failures is looked at before a step; what `closes` flows does so within its
    response time. Credit is given only where it is shown to be quick enough.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, Text]

    @model_validator(mode="before")
    @classmethod
    def _of_its_gas(cls, given: Any, info: ValidationInfo) -> Any:
        """A detector that is called by its gas senses that gas."""
        said = {"kind": given} if isinstance(given, str) else given
        kind = said.get("kind") if isinstance(said, Mapping) else None
        named = DETECTOR.fullmatch(kind.strip()) if isinstance(kind, str) else None
        if named is None or folded(named[1]) == "gas":
            return given
        words = (info.context or {}).get("words") or Words.built_in()
        with suppress(Misspelt):
            if words.find("safeguard", named[0]).name != "detector":
                return given
        at_odds = folded(str(said.get("senses", named[1]))) != folded(named[1])
        called = {"called": named[1]} if at_odds else {}
        return {"senses": named[1], **said, **called, "kind": "detector"}

    @property
    def called(self) -> str | None:
        """The gas that a detector is called by, where it is said to sense another word."""
        return (self.__pydantic_extra__ or {}).get("called")

    kind: Annotated[Known, OfList("safeguard")]
    senses: Text | None = None
    """A gas, `pressure`, or the flow, heat source or item whose failure it notices."""
    alarm: Alarm | None = None
    """What it acts at: a concentration, a share of the lower flammable limit, a pressure."""
    at: Text | None = None
    """Where it stands; a detector: `hood` (in its duct), `bench` or `room`."""
    distance: PositiveLength | None = None
    """Of a detector on the bench: from where gas leaves or may leak; not stated: far from it."""
    reveals: Annotated[list[Text], BeforeValidator(one_or_more)] = []
    """Flows, heat sources, items or `ventilation` whose failure it shows."""
    before: Text | None = None
    """The step before which it is looked at; default: before every step."""
    takes: PositiveTime | None = None
    """How long looking and acting takes; of a detector, noticing its alarm; of a free way out,
    until everybody is out."""
    closes: Annotated[list[Text], BeforeValidator(one_or_more)] = []
    """Flows that it closes by itself or that somebody closes on its alarm."""
    response_time: PositiveTime | None = None
    """From the failure to the closed valve, at the longest; of a gas detector, from the gas at its
    place to its alarm or to the closed valve, transport in a duct or sampling line included."""
    within: PositiveTime | None = None
    """How long it takes to reach it."""
    agent: Text | None = None
    """What an extinguisher holds."""
    holds: Text | None = None
    """What a waste container is for."""
    material: Text | None = None
    """What it is made of, such as gloves of nitrile rubber."""
    note: Text | None = None


class TimeWindow(Model):
    """The least and the most contact time that the user wants."""

    least: PositiveTime | None = None
    most: PositiveTime | None = None
    at: Text | None = None
    """The item; not stated: each with reactions or a catalyst."""


class TemperatureWindow(Model):
    """The lowest and the highest setting of a heater that the user wants."""

    least: Temperature | None = None
    most: Temperature | None = None
    of: Text | None = None
    """The heater; not stated: each."""


class RatioWindow(Model):
    """The least and the most of one flow over another that the user wants."""

    of: Text
    to: Text
    least: Number | None = None
    most: Number | None = None


class Intent(Model):
    """What the user wants of the run: own wishes, no limits of safety."""

    contact_time: TimeWindow | None = None
    temperature: TemperatureWindow | None = None
    ratio: RatioWindow | None = None
    step: Text | None = None
    """The step that they are for; not stated: the longest with a flow and, where there is any, a
    heater on."""
