"""The sections of a scenario that say what is fed in: the room's air, reagents, flows."""

from __future__ import annotations

import re
from collections.abc import Container, Mapping
from contextlib import suppress
from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    Field,
    GetJsonSchemaHandler,
    field_validator,
    model_validator,
)
from pydantic_core import CoreSchema

from review.scenario import units
from review.scenario.errors import quoted
from review.scenario.fields import (
    AbsolutePressure,
    ByKind,
    Component,
    Density,
    Flowing,
    Fraction,
    FractionOrRest,
    Model,
    PositiveVolume,
    Pressure,
    Quantity,
    SupplyPressure,
    Temperature,
    Text,
)
from review.scenario.words import Known, OfList


class Ambient(Model):
    """The room during the run."""

    temperature: Temperature = 293.15
    pressure: AbsolutePressure = units.ATMOSPHERE


#: What else people call a line of the house, and what pushes the room's own air.
_LINES = ("gas tap", "house line", "town gas", "house air", "compressed air", "compressor")
_PUSHED = ("pump", "air pump", "aquarium pump", "membrane pump", "diaphragm pump", "blower", "fan")


#: What a liquid or a solid stands in ready, by whatever word: a bottle.
_VESSELS = frozenset((
    "flask", "jar", "can", "tin", "box", "bag", "packet", "vial", "ampoule", "test tube",
    "wash bottle", "dropping funnel", "burette", "canister", "drum", "container", "vessel",
    "carton", "separating funnel", "syringe",
))  # fmt: skip
#: What stands open: a solid lies in it; of a liquid, see `poured`.
_OPEN = frozenset(("beaker", "dish", "bucket", "tank", "glass", "bowl", "jug", "tub"))


def poured(reagents: Mapping[Any, Any], liquids: Container[object]) -> dict[Any, Any]:
    """Reagents of which those in open ware that are the liquid of an item count as in a bottle:
    it is poured from there. What only stands there evaporates, and has to be an item."""
    out = dict(reagents)
    for name, given in reagents.items():
        if name not in liquids or not isinstance(given, Mapping) or given.get("state") != "liquid":
            continue
        held = given.get("held")
        if isinstance(held, Mapping) and str(held.get("as")) in _OPEN:
            out[name] = {**given, "held": {**held, "as": "bottle"}}
    return out


def called(train: list[Any], reagents: Mapping[Any, Any]) -> list[Any]:
    """Items whose packing is called by a solid reagent of one substance: it is of that substance.

    >>> vitriol = {"state": "solid", "composition": {"copper(II) sulfate pentahydrate": "100 %"}}
    >>> called([{"packing": {"material": "vitriol"}}], {"vitriol": vitriol})
    [{'packing': {'material': 'copper(II) sulfate pentahydrate'}}]
    """
    of: dict[Any, Any] = {}
    for name, given in reagents.items():
        made = given.get("composition") if isinstance(given, Mapping) else None
        if isinstance(made, Mapping) and len(made) == 1 and given.get("state") == "solid":
            of[name] = next(iter(made))
    out = []
    for item in train:
        bed = item.get("packing") if isinstance(item, Mapping) else None
        material = bed.get("material") if isinstance(bed, Mapping) else None
        if isinstance(bed, Mapping) and isinstance(material, str) and material in of:
            item = {**item, "packing": {**bed, "material": of[material]}}
        out.append(item)
    return out


#: Gases of which less than was meant is the worse: they purge, cool and thin.
_THINS = frozenset(
    ("nitrogen", "n2", "stickstoff", "dinitrogen", "nitrogen gas", "7727-37-9", "argon", "ar",
     "argon gas", "7440-37-1", "helium", "he", "helium gas", "7440-59-7", "neon", "ne", "7440-01-9",
     "krypton", "kr", "xenon", "xe", "air", "luft", "compressed air", "druckluft", "pressluft",
     "synthetic air", "dry air", "room air", "raumluft", "ambient air", "house air",
     "instrument air")
)  # fmt: skip
#: The two conditions that trade knows, by temperature (K) over pressure (Pa): what of gas a volume
#: holds least and most.
_THIN, _DENSE = 293.15 / units.ATMOSPHERE, 273.15 / units.ATMOSPHERE


def referred(
    flows: Mapping[Any, Any], reagents: Mapping[Any, Any], room: object = None
) -> dict[Any, Any]:
    """Flows of gas by volume with the condition they count at, where they state none.

    A unit such as sccm says it: 0 degC. Else what only purges and thins is taken at 20 degC,
    which is least of it, and every other gas at 0 degC, which is most; as the room has it where
    that is less, on a mountain, or more.
    """
    out, here = dict(flows), _thinness(room)
    thinnest = "ambient" if here > _THIN * SAME else "standard"
    densest = "ambient" if here < _DENSE / SAME else "normal"
    for name, flow in flows.items():
        called = flow.get("reagent") if isinstance(flow, Mapping) else None
        gas = reagents.get(called) if isinstance(called, str) else None
        if not isinstance(gas, Mapping) or gas.get("state") != "gas" or "reference" in flow:
            continue
        rate = flow.get("rate")
        try:
            volume = units.parse_stated(rate, "flow").by == "volume"
        except (ValueError, AttributeError):
            continue
        parts = gas.get("composition", {})
        thin = {str(part).lower() for part in ((parts,) if isinstance(parts, str) else parts)}
        least = bool(thin) and thin <= _THINS and not units.at_normal(rate)
        if volume:
            taken = "normal" if units.at_normal(rate) else thinnest if least else densest
            out[name] = {**flow, "reference": taken}
    return out


#: Rooms that differ by less are at 20 degC and 1 atm (the weather does more).
SAME = 1.001
_OF_ROOM: tuple[tuple[str, Literal["temperature", "pressure_absolute"]], ...] = (
    ("temperature", "temperature"), ("pressure", "pressure_absolute"),
)  # fmt: skip


def _thinness(room: object) -> float:
    """Temperature over pressure of the room, K/Pa, as far as it can be read."""
    given, found = room if isinstance(room, Mapping) else {}, [293.15, units.ATMOSPHERE]
    for n, (key, dimension) in enumerate(_OF_ROOM):
        with suppress(ValueError, AttributeError, TypeError):
            found[n] = units.parse(given[key], dimension) if key in given else found[n]
    return found[0] / found[1]


def _supply(given: object) -> object:
    return "mains" if given in _LINES else "room air" if given in _PUSHED else given


class Held(Model):
    """How a reagent is held ready."""

    as_: Annotated[
        Literal["cylinder", "bottle", "generator", "room air", "mains"],
        BeforeValidator(_supply),
    ] = Field(alias="as")
    """`room air` is drawn from the room, by a pump as well, and needs no supply of its own; `mains`
    is a line of the house that does not run empty; a gas in a `bottle` stands in a cylinder."""
    volume: PositiveVolume | None = None
    pressure: SupplyPressure | None = None
    regulator: SupplyPressure | None = None
    """Pressure the regulator is set to, which a failure lets pass."""
    equation: Text | None = None
    """What a generator does, as a reaction equation."""
    rate: Flowing | None = None
    """What a generator gives off."""
    limited_by: (
        Literal["dropping funnel", "self-closing", "current", "heat", "fermentation"] | None
    ) = None
    """What keeps a generator's charge from reacting all at once."""


class Reagent(Model):
    """One reagent. The basis of its composition defaults to mole for a gas, else to mass."""

    state: Literal["gas", "liquid", "solid"]
    basis: Literal["mole", "mass", "volume"] = "mole"
    """What the fractions count; default: mole for a gas, mass for a liquid or solid."""
    composition: dict[Component, FractionOrRest] = Field(min_length=1)
    """Substances and their fractions; they add to 100 %, one may be `rest`. A name alone: all."""
    amount: Quantity | None = None
    density: Density | None = None
    held: Held | None = None

    @model_validator(mode="before")
    @classmethod
    def _default_basis(cls, given: Any) -> Any:
        if isinstance(given, Mapping) and isinstance(given.get("composition"), str):
            given = {**given, "composition": {given["composition"]: "100 %"}}
        if isinstance(given, Mapping) and isinstance(given.get("composition"), Mapping):
            given = {**given, "composition": _dissolved(given["composition"])}
        if isinstance(given, Mapping) and "basis" not in given:
            given = {**given, "basis": "mole" if given.get("state") == "gas" else "mass"}
        held = given.get("held") if isinstance(given, Mapping) else None
        if not isinstance(held, Mapping):
            return given
        if given.get("state") == "gas" and held.get("as") == "bottle":
            return {**given, "held": {**held, "as": "cylinder"}}
        ware = _VESSELS | _OPEN if given.get("state") == "solid" else _VESSELS
        if given.get("state") in ("liquid", "solid") and str(held.get("as")) in ware:
            return {**given, "held": {**held, "as": "bottle"}}
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


#: A strength of a solution as bottles have it; `M` and `N` are not taken, they say less.
_MOLARITY = re.compile(r"\s*[\d.]+\s*m?mol\s*/\s*(?:L|l|dm3)\s*")


def _dissolved(given: Mapping[Any, Any]) -> Mapping[Any, Any]:
    """A composition with one substance in mol/L and the rest water, as the solution by its name."""
    strong = [(k, v) for k, v in given.items() if isinstance(v, str) and _MOLARITY.fullmatch(v)]
    others = [(k, v) for k, v in given.items() if (k, v) not in strong]
    if len(strong) != 1 or others not in ([], [("water", "rest")]):
        return given
    name, strength = strong[0]
    return {f"{name} {strength.strip()}": "100 %"}


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


class Instrument(ByKind, Model):
    """What measures or sets a flow, and what it was calibrated for."""

    kind: Annotated[Known, OfList("instrument")]
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
    """Condition of a volume flow: normal | standard | ambient | its temperature and pressure; of a
    gas not stated: 0 degC, or 20 degC where it only purges."""
    instrument: Instrument | None = None
    accuracy: Fraction | None = None
    at_most: Flowing | None = None
    """Most it can deliver when its control fails."""
    shut_off_pressure: SupplyPressure | None = None
    """Most that its supply presses with, a bought generator or the pump that draws it."""
    connector: Text | None = None
    """What its hose ends in, by a name: hoses with different connectors cannot be exchanged; not
    stated: it fits every other."""
    on_power_loss: Literal["stays", "closes", "opens"] | None = None
    """What its control does when the power fails; not known: a controller may do either."""
    on_power_return: Literal["starts", "stays off"] | None = None
    """What it does when the power comes back, if it had closed; default: it stays off."""
