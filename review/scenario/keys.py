"""Keys nobody knows: what the file calls what is meant, and where else it belongs."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from review.scenario import units
from review.scenario.errors import nearest, quoted
from review.scenario.fields import Dim, with_meanings
from review.scenario.models import Scenario
from review.scenario.yaml import Where

#: What else people call what a key stands for, by the key.
MEANT: dict[str, tuple[str, ...]] = {
    "absorbs": ("takes_up", "absorbent", "absorption"),
    "ambient": ("environment", "surroundings"),
    "amount": ("quantity", "stock"),
    "at_most": ("maximum_rate", "max_rate", "max_flow", "maximum_flow"),
    "capacity": ("volume", "size_volume", "nominal_volume", "total_volume", "internal_volume"),
    "catalysts": ("catalyst", "bed", "catalyst_bed"),
    "composition": ("contains", "components", "mixture", "concentration"),
    "conversion": ("yield", "degree_of_conversion"),
    "coolant_temperature": ("cooling", "cooled_to", "coolant", "cooling_water", "cooled_by"),
    "bath_temperature": ("bath", "cold_bath", "cooling_bath", "ice_bath"),
    "dip_depth": ("immersion", "immersion_depth", "dip", "depth"),
    "dip_tube_bore": ("dip_tube", "dip_tube_diameter", "tube_bore"),
    "duration": ("time", "minutes", "lasts", "for"),
    "equation": ("reaction", "formula"),
    "flows": ("feeds", "flow", "feed", "gas_flows", "streams"),
    "from": ("upstream", "after", "inlet", "inlets", "comes_from"),
    "heat": ("heaters", "heating", "heater", "furnace", "heat_sources", "burner"),
    "heats": ("item", "around"),
    "held": ("supply", "source", "container", "stored", "cylinder"),
    "hottest": ("max_temperature", "maximum_temperature", "highest_temperature", "maximum"),
    "in": ("place", "stands_in", "location", "at"),
    "inner_diameter": ("diameter", "bore", "id_mm", "inside_diameter", "internal_diameter"),
    "instrument": ("meter", "flow_meter", "flowmeter", "rotameter", "controller", "float_meter"),
    "into": ("to", "enters", "item", "inlet"),
    "joint": ("joints", "connection", "connector", "joined_by", "fitting"),
    "kind": ("type",),
    "limiting": ("limiting_reactant", "limiting_reagent", "of"),
    "particle_diameter": ("grain", "grain_size", "particle_size", "bead_size", "size"),
    "liquid": (
        "contains", "contents", "content", "filling", "filled_with", "fluid", "holds", "solids",
        "powder",
    ),
    "liquid_volume": ("fill", "fill_volume", "filled", "level", "liquid_amount", "volume_liquid"),
    "packing": (
        "contains", "contents", "content", "solid", "solids", "powder", "filling", "filled_with",
        "holds",
    ),
    "operators": ("persons", "people", "operator"),
    "procedure": ("steps", "program", "schedule", "protocol"),
    "rate": ("flow", "flow_rate", "flowrate", "value"),
    "reactions": ("reaction",),
    "reagents": ("gases", "chemicals", "substances", "liquids", "stocks"),
    "room_volume": ("room", "volume"),
    "safeguards": ("safety", "precautions", "ppe", "protection", "detectors"),
    "set_temperature": ("temperature", "setpoint", "set_point"),
    "step": ("name", "id"),
    "train": ("items", "apparatus", "parts", "equipment", "line"),
    "valves": ("open", "valve", "taps", "positions", "tap"),
    "ventilation": ("room", "hood", "fume_hood", "venting"),
    "wall": ("wall_thickness", "thickness"),
}  # fmt: skip

#: So many keys at most are named in a message.
NAMED = 21


def unknown(path: Where) -> tuple[str, str]:
    """The message for a key nobody knows at the end of a path, and the nearest right spelling.

    >>> unknown(("train", 0, "fill"))
    ('unknown key "fill"', 'liquid_volume')
    >>> unknown(("train", 0, "contents"))
    ('unknown key "contents"; there is also packing', 'liquid')
    >>> unknown(("reactions",))[0]
    'unknown key "reactions": it belongs elsewhere, as train.ITEM.reactions'
    """
    key = str(path[-1])
    here = known(path[:-1])
    said = f"unknown key {quoted(key)}"
    several = [word for word in means(key) if word in here]
    if len(several) > 1:
        return f"{said}; there is also {' and '.join(several[1:])}", several[0]
    meant = nearest_of(key, here)
    if meant in several:
        return said, meant
    places = _places()
    for word in (_plain(key), *means(key)):
        if 0 < len(places.get(word, ())) <= 2:
            return f"{said}: it belongs elsewhere, as {' or '.join(places[word])}", ""
    if meant:
        return said, meant
    if " " in key or key[:1].isdigit():  # the rest of a text that a comma cut
        return f"{said}: a text with a comma in it goes into quotes", ""
    if 0 < len(here) <= NAMED:
        return f"{said}; known here are {', '.join(here)}", ""
    return f"{said}; benchgate words key lists what is known", ""


def nearest_of(key: str, here: list[str]) -> str:
    """The key of a section that somebody means by a word, else the nearest spelling, else ''."""
    meant = [word for word in means(key) if word in here]
    return meant[0] if meant else nearest(key, here)


def means(key: str) -> list[str]:
    """The keys that a word may stand for."""
    plain = _plain(key)
    return [word for word, others in MEANT.items() if plain in others or plain == word != key]


def known(path: Where) -> list[str]:
    """The keys that the model at a path knows."""
    at = without_none(field_at(path)[0])
    if isinstance(at, type) and issubclass(at, BaseModel):
        return [field.alias or name for name, field in at.model_fields.items()]
    return []


def example(path: Where) -> str:
    """What the section at a path may look like, with what it has to have; '' for nothing.

    >>> example(("train", 0, "relief"))
    ', such as relief: {opens_at: 0.4 bar gauge, bore: 20 mm}'
    """
    at = without_none(field_at(path)[0])
    needed = [
        (field.alias or name, mark.dimension)
        for name, field in at.model_fields.items()
        for mark in field.metadata
        if isinstance(mark, Dim) and field.is_required()
    ]
    like = ", ".join(f"{key}: {units.SPECS[dimension].example}" for key, dimension in needed)
    return f", such as {path[-1]}: {{{like}}}" if like else ""


def field_at(path: Where) -> tuple[Any, tuple[Any, ...]]:
    """Annotation and metadata of the field at a path."""
    at: tuple[Any, tuple[Any, ...]] = (Scenario, ())
    for part in path:
        kind = without_none(at[0])
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            fields = kind.model_fields.items()
            found = (f for name, f in fields if part in (name, f.alias))
            field = next(found, None)
            at = (None, ()) if field is None else (field.annotation, tuple(field.metadata))
        else:
            at = (_inner(kind), ())
    return at


def _inner(kind: Any) -> Any:
    """What a list or mapping holds."""
    if isinstance(kind, type) and issubclass(kind, list):  # a list with a name of its own
        bases = [get_args(base) for base in getattr(kind, "__orig_bases__", ())]
        return bases[0][-1] if bases and bases[0] else None
    return get_args(kind)[-1] if get_args(kind) else None


def without_none(annotation: Any) -> Any:
    """An annotation without its alternative None, and without its marks."""
    if get_origin(annotation) is Annotated:
        return without_none(get_args(annotation)[0])
    if get_origin(annotation) in (dict, list, Literal):
        return annotation
    kept = [part for part in get_args(annotation) if part is not type(None)]
    return without_none(kept[0]) if kept else annotation


@cache
def sections() -> dict[str, type[BaseModel]]:
    """The models of a file by where they stand, '' for the file itself.

    >>> list(sections())[:4], "flows.NAME.instrument" in sections()
    (['', 'ambient', 'reagents.NAME', 'reagents.NAME.held'], True)
    """
    return dict(_sections("", Scenario))


def described(place: str, key: str) -> str:
    """An example of a number and what it means, in brackets as a message puts them; '' for none.

    >>> described("train.ITEM", "dip_depth")
    " (such as 20 mm: depth of the dip tube's end below the liquid surface)"
    """
    with_meanings()
    field = sections()[place].model_fields.get(key)
    if field is None:
        return ""
    marks = [*field.metadata, *(m for part in get_args(field.annotation) for m in get_args(part))]
    like = [units.SPECS[mark.dimension].example for mark in marks if isinstance(mark, Dim)]
    kind = without_none(field.annotation)
    text = (field.description or "").split(";")[0].split(". ")[0].rstrip(".").replace("\n", " ")
    told = [f"such as {each}" for each in like[:1]]
    told += [" or ".join(map(str, get_args(kind)))] * (get_origin(kind) is Literal)
    told += [text[:1].lower() + text[1:]] * bool(text)
    return f" ({': '.join(told)})" if told else ""


_ONE_OF = {"train": "ITEM", "procedure": "STEP", "safeguards": "N", "look_for": "N"}


def _sections(place: str, model: type[BaseModel]) -> Iterator[tuple[str, type[BaseModel]]]:
    yield place, model
    for name, field in model.model_fields.items():
        kind, key = without_none(field.annotation), field.alias or name
        one = ""
        if not (isinstance(kind, type) and issubclass(kind, BaseModel)):
            one = "." + (_ONE_OF.get(key) or ("NAME" if get_origin(kind) is dict else "N"))
            kind = without_none(_inner(kind))
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from _sections(f"{place}.{key}".removeprefix(".") + one, kind)


@cache
def _places() -> dict[str, list[str]]:
    """Where each key stands in a file, by the key."""
    found: dict[str, list[str]] = {}
    for place, model in sections().items():
        for name, field in model.model_fields.items():
            key = field.alias or name
            found.setdefault(key, []).append(f"{place}.{key}".removeprefix("."))
    return found


def _plain(key: str) -> str:
    return key.strip().casefold().replace(" ", "_").replace("-", "_")
