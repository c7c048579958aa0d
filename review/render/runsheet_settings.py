"""What is set on the bench, as the scenario file has it, and what it must not pass."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from review.interface.result import Review
from review.render import words
from review.render.runsheet_stocks import stocks
from review.scenario import Safeguard, Scenario
from review.scenario.units import show

#: Kinds of measure that tell what the parts of the train hold.
_PRESSURE, _SHARE = "train.pressure", "pressure.working_over_rating"
#: Where no figure limits it: higher was never reviewed.
_NO_LIMIT = "no more than planned"
_AS_REVIEWED = "no less than planned"
AS_FOUND = "as described"
#: Below this a gauge pressure reads better in mbar, Pa.
_SMALL = 1e4
#: What is left over when a figure went through a ratio.
_ROUNDING = 1e-9
#: Of a safeguard these speak for themselves.
_PLAIN = frozenset({"at", "note", "agent", "material"})
#: What is told of a safeguard that is at hand.
_OF_IT = ("at", "agent", "material", "holds", "within", "note")


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing that is set: what it is, its planned value, and the value it must not pass."""

    name: str
    planned: str
    limit: str


@dataclass(frozen=True, slots=True)
class _Weakest:
    """The item that holds least, its rating, and the share of it that asks for nothing more."""

    place: str
    rating: float
    share: float

    def limit(self, planned: float) -> str:
        """What a planned gauge pressure, Pa, must not pass, in words."""
        if planned <= self.rating * self.share * (1 + _ROUNDING):
            share = f"{math.floor(100 * self.share + _ROUNDING)} % of "
            return f"{_gauge(_down(self.rating * self.share))}, {share}what {self.place} holds"
        if planned < self.rating:
            return _NO_LIMIT  # more than it asks for is planned already
        return f"{_gauge(_down(self.rating))}, what {self.place} holds"


@dataclass(frozen=True, slots=True)
class Watched:
    """Something that gives an alarm or is looked at: where, at what, and what follows."""

    name: str
    shows: str
    alarm: str
    where: str
    then: str


def settings(review: Review, scenario: Scenario) -> tuple[Setting, ...]:
    """Flows, supplies, pressure, heat, baths, liquids, valves and ventilation, in this order."""
    said = _Said(scenario)
    weakest = _weakest(review, scenario)
    return (
        *_flows(scenario, said),
        *_supplies(scenario, said, weakest),
        *_pressure(review, scenario, weakest),
        *(_setting(*told) for told in stocks(review, scenario)),
        *_heat(scenario, said),
        *_items(scenario, said),
        *_air(scenario, said),
        *_described(scenario, said),
    )


#: What only the operator can see to: fields that describe the bench, by section.
_ON_THE_BENCH = {
    "train": ("in", "orientation", "mesh_opening", "channel_diameter"),
    "heat": ("power", "distance"),
    "catalysts": ("form", "material"),
    "ignition_sources": ("kind", "in", "distance"),
}


def _described(scenario: Scenario, said: _Said) -> Iterator[Setting]:
    """How the bench is described, to be compared with it, and what contact time is wanted."""
    named: list[tuple[str, str | int, str]] = [
        ("train", number, item.id) for number, item in enumerate(scenario.train)
    ]
    for section in ("heat", "catalysts", "ignition_sources"):
        named += [(section, name, name) for name in getattr(scenario, section)]
    for section, key, name in named:
        for field in _ON_THE_BENCH[section]:
            value = said(section, key, field)
            if value:
                yield Setting(words.clean(f"{name}: {field.replace('_', ' ')}"), value, AS_FOUND)
    for number, item in enumerate(scenario.train):
        if value := said("train", number, "packing", "material"):
            yield Setting(words.clean(f"{item.id}: packing"), value, AS_FOUND)
    for field in ("contact_time", "temperature", "ratio"):
        wanted = [f"{at} {value}" for at, end in (("at least", "least"), ("at most", "most"))
                  if (value := said("intent", field, end))]  # fmt: skip
        of = [value for key in ("at", "of", "to") if (value := said("intent", field, key))]
        if wanted:
            what = f"{field.replace('_', ' ')} wanted" + f" ({' to '.join(of)})" * bool(of)
            step = said("intent", "step")
            during = f', step "{step}"' if step else ""
            yield Setting(words.clean(what), ", ".join(wanted) + during, "a wish, no limit")


def watched(scenario: Scenario) -> tuple[Watched, ...]:
    """Safeguards that give an alarm, close something or are looked at."""
    found = []
    for number, safeguard in enumerate(scenario.safeguards):
        if not _watches(safeguard):
            continue
        said = _Said(scenario, ("safeguards", number))
        then = []
        if safeguard.reveals:
            step = f"step {safeguard.before}" if safeguard.before else "every step"
            then.append(f"look before {step}")
        if safeguard.kind == "detector":
            then.append("leave, close the door, call")
        if safeguard.closes:
            within = f" within {said('response_time')}" if safeguard.response_time else ""
            then.append(f"closes {words.listed(safeguard.closes)}{within}: check that it has")
        shows = dict.fromkeys((*safeguard.reveals, *filter(None, [safeguard.senses])))
        told = (
            safeguard.kind, words.listed(shows), str(safeguard.alarm or ""), safeguard.at or "",
            "; ".join(then),
        )  # fmt: skip
        found.append(Watched(*map(words.clean, told)))
    for sign in scenario.look_for:
        seen = (sign.sign, sign.means, "", sign.at or "", sign.do)
        found.append(Watched(*map(words.clean, seen)))
    return tuple(found)


def at_hand(scenario: Scenario) -> tuple[str, ...]:
    """Every other safeguard that the scenario claims, with what it says of it."""
    lines = []
    for number, safeguard in enumerate(scenario.safeguards):
        if _watches(safeguard):
            continue
        said = _Said(scenario, ("safeguards", number))
        more = {key: said(key) for key in (*_OF_IT, *(safeguard.model_extra or {}))}
        told = ", ".join(
            value if key in _PLAIN else f"{key} {value}" for key, value in more.items() if value
        )
        lines.append(words.clean(f"{safeguard.kind}{f' ({told})' if told else ''}"))
    return tuple(dict.fromkeys(lines))


class _Said:
    """What stands in the file at a path, as one line; "" where nothing does."""

    def __init__(self, scenario: Scenario, under: tuple[str | int, ...] = ()) -> None:
        self._places, self._under = scenario.places, under

    def __call__(self, *path: str | int) -> str:
        place = self._places.get((*self._under, *path))
        return words.clean(place.text) if place else ""


def _watches(safeguard: Safeguard) -> bool:
    named = safeguard.kind == "detector" or safeguard.alarm
    return bool(named or safeguard.reveals or safeguard.closes)


def _flows(scenario: Scenario, said: _Said) -> Iterator[Setting]:
    for name, flow in scenario.flows.items():
        path = ("flows", name)
        at = ""
        if flow.rate.by == "volume" and scenario.reagents[flow.reagent].state == "gas":
            temperature, pressure = scenario.reference(name)
            at = f" at {show(temperature, 'degC')}, {show(pressure, 'atm')}"
        meter = flow.instrument
        parts = (
            f"{said(*path, 'rate')}{at}",
            f"accuracy {said(*path, 'accuracy')}" if flow.accuracy is not None else "",
            meter.kind if meter is not None and meter.kind != "none" else "",
            f"calibrated for {meter.calibration_gas}" if meter and meter.calibration_gas else "",
        )
        most = said(*path, "at_most")
        reagent = f" ({flow.reagent})" if flow.reagent != name else ""
        yield _setting(
            f"{name}{reagent} into {flow.into}",
            ", ".join(p for p in parts if p),
            f"no other than planned; it can give {most}"
            if most
            else "no other than planned; how much it can give is not known",
        )


def _supplies(scenario: Scenario, said: _Said, weakest: _Weakest | None) -> Iterator[Setting]:
    fed = {flow.reagent for flow in scenario.flows.values()}
    room = scenario.ambient.pressure
    for name, reagent in scenario.reagents.items():
        set_to = reagent.held.regulator if reagent.held else None
        if set_to is not None and name in fed:
            limit = weakest.limit(set_to - room) if weakest else _NO_LIMIT
            regulator = said("reagents", name, "held", "regulator")
            yield _setting(f"regulator of {name}", regulator, limit)
    for name, flow in scenario.flows.items():
        if flow.shut_off_pressure is not None:
            stalls = said("flows", name, "shut_off_pressure")
            limit = weakest.limit(flow.shut_off_pressure - room) if weakest else _NO_LIMIT
            yield _setting(f"{name}, pressure at which it stalls", stalls, limit)


def _pressure(review: Review, scenario: Scenario, weakest: _Weakest | None) -> Iterator[Setting]:
    if weakest is None or not scenario.flows:
        return
    highest = [
        (float(np.nanmax(m.value[:, 0])) - scenario.ambient.pressure, m.at)
        for m in review.measures
        if m.kind == _PRESSURE and m.value.size and np.isfinite(m.value[:, 0]).any()
    ]
    if highest:
        value, at = max(highest)
        planned = f"up to {_gauge(max(value, 0.0))} at {at}"
        yield _setting("pressure in the train", planned, weakest.limit(value))


def _weakest(review: Review, scenario: Scenario) -> _Weakest | None:
    """The item that holds least and its rating, Pa gauge, worked back from what was computed.

    The share is the least that a criterion in force takes as acceptable.
    """
    edges = [
        f.limit
        for f in review.findings
        if f.kind == _SHARE and f.limit is not None and f.limit > 0 and f.grade != "unacceptable"
    ]
    if not edges:
        return None
    pressures = {m.at: m.value for m in review.measures if m.kind == _PRESSURE}
    ratings = []
    for measure in review.measures:
        pressure = pressures.get(measure.at)
        if measure.kind != _SHARE or pressure is None or pressure.shape != measure.value.shape:
            continue
        over, share = pressure - scenario.ambient.pressure, measure.value
        known = np.isfinite(share) & np.isfinite(over) & (share > 0) & (over > 0)
        if not known.any():
            return None  # the weakest may be the one that is not known
        at = np.where(known, over, -np.inf).argmax()
        # What is printed is compared, so that the first of several alike is named.
        ratings.append((_down(float(over.flat[at] / share.flat[at])), measure.at))
    if not ratings:
        return None
    rating, place = min(ratings, key=lambda pair: pair[0])
    return _Weakest(place, rating, min(*edges, 1.0))


def _down(pascal: float) -> float:
    """Three significant digits that are never more than what was worked out."""
    if pascal <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(pascal)) - 2)
    return math.floor(pascal / step * (1 + _ROUNDING)) * step


def _gauge(pascal: float) -> str:
    return show(pascal, "mbar" if pascal < _SMALL else "bar") + " gauge"


def _heat(scenario: Scenario, said: _Said) -> Iterator[Setting]:
    for name, heat in scenario.heat.items():
        hottest, fuel = said("heat", name, "hottest"), said("heat", name, "fuel_rate")
        planned = said("heat", name, "set_temperature") or "temperature not stated"
        yield _setting(
            f"{name} ({heat.kind}) at {heat.heats}",
            f"{planned}{f', {fuel} {heat.fuel}' if fuel else ''}",
            f"{hottest}, the hottest reviewed" if hottest else _NO_LIMIT,
        )
    for name, catalyst in scenario.catalysts.items():
        most = said("catalysts", name, "maximum_temperature")
        mass = said("catalysts", name, "mass") or "mass not stated"
        bears = f"{most}, what it bears" if most else _NO_LIMIT
        yield _setting(f"{name} in {catalyst.in_}", mass, bears)


def _items(scenario: Scenario, said: _Said) -> Iterator[Setting]:
    for number, item in enumerate(scenario.train):
        path = ("train", number)
        if item.bath_temperature is not None:
            yield _setting(f"bath of {item.id}", said(*path, "bath_temperature"), _NO_LIMIT)
        if item.temperature is not None:
            yield _setting(f"temperature of {item.id}", said(*path, "temperature"), _NO_LIMIT)
        if item.liquid is not None:
            volume, dip = said(*path, "liquid_volume"), said(*path, "dip_depth")
            filled = f"{volume} {item.liquid}".strip() + (f", dip {dip}" if dip else "")
            yield _setting(f"{item.id}, filled with", filled, "")
    shut = [item.id for item in scenario.train if not item.open]
    if shut or any(said("train", n, "open") for n in range(len(scenario.train))):
        yield _setting("valves", f"shut: {words.listed(shut)}" if shut else "all open", "")


def _air(scenario: Scenario, said: _Said) -> Iterator[Setting]:
    ventilation = scenario.ventilation
    if ventilation is None:
        return
    if ventilation.hood is not None:
        path = ("ventilation", "hood")
        size = " x ".join(
            p for p in (said(*path, "opening_width"), said(*path, "opening_height")) if p
        )
        speed = said(*path, "face_velocity")
        parts = (
            f"face velocity {speed}" if speed else "face velocity not stated",
            f"opening {size}" if size else "",
            f"containment test: {ventilation.hood.tested}",
        )
        named = ventilation.hood.kind or "hood"
        yield _setting(named, ", ".join(p for p in parts if p), _AS_REVIEWED)
    changes = said("ventilation", "air_changes")
    room = (said("ventilation", "room_volume"), f"air changes {changes}" if changes else "")
    yield _setting("room", ", ".join(p for p in room if p) or "not stated", _AS_REVIEWED)


def _setting(name: str, planned: str, limit: str) -> Setting:
    return Setting(words.upper_first(words.clean(name)), words.clean(planned), words.clean(limit))
