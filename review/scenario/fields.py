"""Types of the fields of a scenario: a text comes in, an SI float or a plain word comes out."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from textwrap import dedent
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import CoreSchema, core_schema

from review.scenario import units
from review.scenario.errors import path_parts, quoted
from review.scenario.units import Bare, Dimension, Stated


@dataclass(frozen=True, slots=True)
class Dim:
    """The dimension of a field; `words` are accepted in place of a quantity."""

    dimension: Dimension
    words: tuple[str, ...] = ()
    positive: bool = False
    bare: Bare = ""
    """Of a pressure: how one is read that says neither gauge nor absolute."""

    def read(self, given: object, room: float = units.ATMOSPHERE) -> float | Stated | str:
        """The SI value of a text, or the word. Raises ValueError naming the right spelling.

        What is said as gauge counts from the pressure of the `room`, Pa.
        """
        spec = units.SPECS[self.dimension]
        if not isinstance(given, str):
            raise ValueError(f"expected a {spec.name}, for example '{spec.example}'")
        if given in self.words:
            return given
        try:
            value = self._quantity(given, room)
        except ValueError as error:
            words = " or ".join(f"'{word}'" for word in self.words)
            raise ValueError(f"{error}" + (f", or {words}" if words else "")) from None
        if self.positive and (value.value if isinstance(value, Stated) else value) <= 0.0:
            raise ValueError(f"{spec.name} {quoted(given)} must be above zero")
        return value

    def _quantity(self, text: str, room: float) -> float | Stated:
        if self.dimension == "flow" or self.dimension == "quantity":
            return units.parse_stated(text, self.dimension)
        return units.parse(text, self.dimension, room, self.bare)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        if self.dimension != "pressure":
            return core_schema.no_info_plain_validator_function(self.read)
        return core_schema.with_info_plain_validator_function(
            lambda given, info: self.read(given, room_of(info))
        )

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


def asked(data: Any, words: object) -> dict[str, Any]:
    """What validation of a file asks besides each value: the lists of words in force, and the
    pressure of the room."""
    ambient = data.get("ambient") if isinstance(data, Mapping) else None
    said = ambient.get("pressure") if isinstance(ambient, Mapping) else None
    room = units.ATMOSPHERE
    if isinstance(said, str):
        with suppress(ValueError):  # which is told where it stands
            room = units.parse(said, "pressure_absolute") or room
    return {"words": words, "room": room}


def room_of(info: core_schema.ValidationInfo) -> float:
    """The room's pressure that gauges of the file being read count from, Pa."""
    return float((info.context or {}).get("room", units.ATMOSPHERE))


#: What stands above this inside is no vacuum in any room, Pa.
MOST_INSIDE = 1.1e5


class Vacuum(Dim):
    """A pressure inside; the words `full vacuum` are 0 Pa."""

    def read(self, given: object, room: float = units.ATMOSPHERE) -> float | Stated | str:
        inside = 0.0 if given == FULL_VACUUM else super().read(given, room)
        if isinstance(inside, float) and inside > MOST_INSIDE:
            raise ValueError(
                f"{quoted(str(given))} is no vacuum but a pressure above the room's: write for "
                f"example '10 mbar absolute', '-0.9 bar gauge' or '{FULL_VACUUM}'"
            )
        return inside

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        spec = units.SPECS[self.dimension]
        said = f"{spec.name.capitalize()}, for example '10 mbar absolute', or '{FULL_VACUUM}'."
        return {"type": "string", "description": said, "examples": [FULL_VACUUM]}


FULL_VACUUM = "full vacuum"


def _name(text: str) -> str:
    if len(path_parts(text)) > 1:
        raise ValueError(
            f"name {quoted(text)} contains '.', which separates the parts of a path, "
            "other than between digits"
        )
    if ":" in text or "|" in text:
        odd = ":" if ":" in text else "|"
        raise ValueError(f"name {quoted(text)} contains {quoted(odd)}, which stands in upset names")
    return text


def _comma(given: object) -> object:
    return re.sub(r"(?<=\d)\.(?=\d)", ",", given) if isinstance(given, str) else given


def _item_id(text: str) -> str:
    odd = sorted({c for c in text if not (c.isalnum() or c in " -_.")})
    if odd:
        raise ValueError(
            f"id {quoted(text)} contains {quoted(odd[0])}: "
            "use letters, digits, space, hyphen, underscore"
        )
    return _name(text)


#: Other words of the trade for what is left over.
_REST = ("balance", "bal.", "remainder", "the rest")


def _rest(given: object) -> object:
    return "rest" if given in _REST else given


def one_or_more(given: object) -> object:
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
#: The strength in a component's name may have a decimal point; a path has a comma there.
Component = Annotated[Name, BeforeValidator(_comma)]
ItemId = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_item_id)]
YesNo = Annotated[bool, BeforeValidator(_yes_no), Field(strict=True), _YES_NO_SCHEMA]
Ids = Annotated[list[Text], BeforeValidator(one_or_more), _IDS_SCHEMA]

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
#: What a supply's gauge shows; that it is the higher of the two is the worse as well.
SupplyPressure = Annotated[float, Dim("pressure", bare="gauge")]
#: What holds a pressure holds less where the figure is absolute.
Rating = Annotated[float, Dim("pressure", bare="absolute")]
AbsolutePressure = Annotated[float, Dim("pressure_absolute", positive=True)]
VacuumRating = Annotated[float, Vacuum("pressure")]
Flowing = Annotated[Stated, Dim("flow")]
Quantity = Annotated[Stated, Dim("quantity")]
Fraction = Annotated[float, Dim("fraction")]
PositiveFraction = Annotated[float, Dim("fraction", positive=True)]
FractionOrRest = Annotated[float, Dim("fraction", words=("rest",)), BeforeValidator(_rest)]
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

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class ByKind(BaseModel):
    """Beside `Model`, of a section that has a kind: a word alone is its kind."""

    @model_validator(mode="before")
    @classmethod
    def _word(cls, given: Any) -> Any:
        """A word alone is its kind."""
        return {"kind": given} if isinstance(given, str) else given

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        mapping = handler.resolve_ref_schema(handler(schema))
        return {"anyOf": [mapping["properties"]["kind"], mapping]}


@cache
def with_meanings() -> None:
    """Give each field of each section the text below it as its description.

    Reading the source takes longer than reading a scenario, so only who shows them asks.
    """
    for model in Model.__subclasses__():
        source = ast.parse(dedent(inspect.getsource(model))).body[0]
        assert isinstance(source, ast.ClassDef)
        for field, below in pairwise(source.body):
            if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                text = getattr(getattr(below, "value", None), "value", None)
                if isinstance(below, ast.Expr) and isinstance(text, str):
                    model.model_fields[field.target.id].description = inspect.cleandoc(text)
        model.model_rebuild(force=True)
