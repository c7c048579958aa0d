"""The sections of a scenario that say where it stands and how it is run."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, ConfigDict, Field, field_validator

from review.scenario.fields import (
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
    Text,
    Torque,
    one_or_more,
)


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


class IgnitionSource(Model):
    """Something that can light gas and is no heat source of this set-up."""

    kind: Literal["flame", "spark", "hot surface"]
    in_: Literal["hood", "room"] = Field(alias="in", default="room")
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
    reveals: Annotated[list[Text], BeforeValidator(one_or_more)] = []
    """Flows, heat sources, items or `ventilation` whose failure it shows."""
    before: Text | None = None
    """The step before which it is looked at; default: before every step."""
    takes: PositiveTime | None = None
    """How long looking and acting takes."""
    closes: Annotated[list[Text], BeforeValidator(one_or_more)] = []
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
