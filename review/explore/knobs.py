"""What a user can turn: numbers of the file that are settings or sizes, and how far.

A rating, an accuracy, a conversion or what a supply is said to do is a fact and no setting; none of
them is turned. What only helps downwards (a regulator, the most a feed can give) goes down only.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from review.explore.points import RangeError, Turned, located, put, written
from review.explore.ways import downwards
from review.scenario import Scenario, numbers
from review.scenario.errors import path_parts

#: Sizes as sold, mm and L (common practice, no source): tube and hose bores, gas cylinders.
BORES = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0, 40.0, 50.0)
CYLINDERS = (0.4, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
#: Cold as it is had, degC: dry ice, ice and salt, ice (common practice, no source); a bath that is
#: colder than the first of them to start with has no other settings.
COLD = (-78.0, -18.0, 0.0)
#: A temperature this far away counts as far as a number that is e times as large.
KELVIN_PER_FOLD = 100.0

Spread = Literal["ratio", "kelvin", "cold", "bore", "cylinder"]


@dataclass(frozen=True, slots=True, eq=False)
class Knob:
    """One thing to turn: how it is written into the file and, for a quick look, as an overlay.

    `values` are the places looked at, in the unit of the file, the present one left out.
    `per_unit` are the paths it changes, each with the change in SI per unit of the file.
    """

    turned: Turned
    spread: Spread
    values: tuple[float, ...]
    per_unit: Mapping[str, tuple[float, float]]
    says: str

    def overlay(self, value: float) -> dict[str, float]:
        """The changed numbers by path, SI."""
        by = value - self.turned.value
        return {path: now + scale * by for path, (now, scale) in self.per_unit.items()}

    def within(self, value: float) -> float:
        """A value, or the bound of what may be set that it lies beyond."""
        return min(max(value, self.turned.low), self.turned.high)

    def far(self, value: float) -> float:
        """How far a value is from the present one, so that unlike numbers can be compared."""
        if self.spread in ("kelvin", "cold"):
            size = 1.8 if self.turned.unit == "degF" else 1.0
            return abs(value - self.turned.value) / size / KELVIN_PER_FOLD
        return abs(math.log(value / self.turned.value))

    def sentence(self, value: float) -> str:
        """What to set, for a person."""
        if "times" in self.says:
            return self.says.replace("times", f"{self.turned.show(value)} times")
        return f"{self.says} {self.turned.show(value)} (now {self.turned.show(self.turned.value)})"


@dataclass(frozen=True, slots=True)
class _Sort:
    """Numbers of one sort: their paths, what to say, how values are spread, and in which sense."""

    path: re.Pattern[str]
    says: str
    spread: Spread = "ratio"
    down: bool = False

    @property
    def most(self) -> float:
        """How many times as large is looked at: a size of a bench grows less than a flow."""
        return 4.0 if self.of_a_size else 20.0

    @property
    def least(self) -> float:
        """The share of it that is looked at: a twentieth of a size is another thing."""
        return 1 / 20 if self.of_a_size else 1 / 1000

    @property
    def of_a_size(self) -> bool:
        return self.path.pattern.startswith(("train", "frame", "heat"))


#: A name in a path, which may have a point between digits.
_NAME = r"((?:[^.]|(?<=[0-9])\.(?=[0-9]))+)"


def _sort(path: str, says: str, spread: Spread = "ratio", *, down: bool = False) -> _Sort:
    return _Sort(re.compile(path.replace(".", r"\.").replace("*", _NAME)), says, spread, down)


_SORTS = (
    _sort("flows.*.rate", 'Set "{0}" to'),
    _sort("flows.*.at_most", 'Fit a restrictor: "{0}" at most', down=True),
    _sort("heat.*.set_temperature", 'Set "{0}" to', "kelvin"),
    _sort("heat.*.hottest", 'Limit "{0}" to', "kelvin", down=True),
    _sort("heat.*.power", 'Limit the power of "{0}" to', down=True),
    _sort("heat.*.insulation_thickness", 'Insulate "{0}" with'),
    _sort("procedure.*.duration", 'Let step "{0}" last'),
    _sort("train.*.length", 'Make "{0}" this long:'),
    _sort("train.*.inner_diameter", 'Take "{0}" with a bore of', "bore"),
    _sort("train.*.wall", 'Take "{0}" with a wall of'),
    _sort("train.*.mouth", 'Make the opening of "{0}"', down=True),
    _sort("train.*.below_rim", 'Keep the liquid in "{0}" this far below the rim:'),
    _sort("train.*.liquid_volume", 'Fill "{0}" with'),
    _sort("train.*.gas_volume", 'Take "{0}" with a gas space of'),
    _sort("train.*.dip_depth", 'Let the dip tube of "{0}" reach down'),
    _sort("train.*.lift", 'Raise the way out of "{0}" above its liquid to'),
    _sort("train.*.bath_temperature", 'Hold the bath of "{0}" at', "kelvin"),
    _sort("train.*.coolant_temperature", 'Cool "{0}" with coolant of', "kelvin"),
    _sort("reagents.*.amount", 'Take of "{0}"', down=True),
    _sort("reagents.*.held.volume", 'Take "{0}" in a cylinder of', "cylinder", down=True),
    _sort("reagents.*.held.regulator", 'Set the regulator of "{0}" to', down=True),
    _sort("frame.clamps.*.height", 'Put clamp "{0}" at a height of', down=True),
    _sort("frame.clamps.*.reach", 'Let clamp "{0}" reach out', down=True),
    _sort("frame.rods.*.diameter", 'Take rod "{0}" with a diameter of', "bore"),
)


def knobs(scenario: Scenario, data: Any, many: int = 20) -> tuple[Knob, ...]:
    """All that can be turned, in the order of the file, each with about `many` values to try."""
    known = numbers(scenario)
    found = [knob for path in known if (knob := _knob(scenario, data, path, known, many))]
    return tuple([*found, *_feet(scenario, data)])


def _knob(
    scenario: Scenario, data: Any, path: str, known: Mapping[str, float], many: int
) -> Knob | None:
    sort, match = next(((s, m) for s in _SORTS if (m := s.path.fullmatch(path))), (None, None))
    if sort is None or match is None:
        return None
    sort = replace(sort, down=sort.down or downwards(scenario, path))
    if path.startswith("train.") and path_parts(path)[1] in _protecting(scenario):
        return None
    try:
        places = [(path, *_place(scenario, data, path))]
    except RangeError:
        return None
    _, _, value, unit = places[0]
    kelvin = sort.spread == "kelvin"
    if not kelvin and not value > 0:
        return None
    if kelvin and unit == "degC" and value < COLD[0]:
        sort = replace(sort, spread="cold")
    scale = _scale(known[path], value, unit, scenario.ambient.pressure)
    if scale is None:
        return None
    # What a step sets anew goes with the setting, and a heater's limit with its setting.
    for other in _going_along(scenario, path):
        try:
            place = (other, *_place(scenario, data, other))
        except (RangeError, KeyError):
            continue
        if place[3] == unit and other in known:
            places.append(place)

    def set_to(changed: Any, to: float) -> None:
        for _, keys, now, _ in places:
            new = now + (to - value) if kelvin else now * to / value
            put(changed, keys, f"{new:.9g} {unit}".strip())

    per_unit = {
        other: (known[other], scale if kelvin else scale * now / value)
        for other, _, now, _ in places
    }
    low, high = _bounds(sort, value, unit)
    turned = Turned(path, unit, value, low, high, set_to)
    values = tuple(v for v in _values(sort, turned, many) if v != value)
    return Knob(turned, sort.spread, values, per_unit, sort.says.format(*match.groups()))


def _protecting(scenario: Scenario) -> set[str]:
    """Items whose sizes are what they protect by."""
    return {item.id for item in scenario.train if item.kind == "arrester"}


def _place(scenario: Scenario, data: Any, path: str) -> tuple[tuple[str | int, ...], float, str]:
    keys = located(scenario, path)
    return keys, *written(data, keys, path)


def _going_along(scenario: Scenario, path: str) -> Iterator[str]:
    parts = path_parts(path)
    if path.endswith((".rate", ".set_temperature")):
        section, name = parts[0], parts[1]
        for step in scenario.procedure:
            yield f"procedure.{step.step}.{section}.{name}"
    if path.endswith(".set_temperature"):
        yield f"heat.{parts[1]}.hottest"


def _scale(si: float, value: float, unit: str, room: float) -> float | None:
    """SI per unit of the file; None where that cannot be told."""
    if unit in ("degC", "K", "degF", "°C"):
        return 5.0 / 9.0 if unit == "degF" else 1.0
    if "gauge" in unit or unit in ("barg", "mbarg", "psig"):
        si -= room
    return si / value if value and si else None


def _bounds(sort: _Sort, value: float, unit: str) -> tuple[float, float]:
    if sort.spread == "cold":
        return value, max(COLD)
    if sort.spread == "kelvin":
        least = {"K": 283.0, "degF": 50.0}.get(unit, 10.0)
        return min(least, value), value if sort.down else value + 200.0
    return value * sort.least, value if sort.down else value * sort.most


def _values(sort: _Sort, turned: Turned, many: int) -> Sequence[float]:
    """Places to look at, denser near the present value."""
    if sort.spread == "cold":
        return COLD
    if sort.spread in ("bore", "cylinder"):
        sold = BORES if sort.spread == "bore" else CYLINDERS
        per = {"mm": 1.0, "cm": 0.1, "m": 1e-3, "L": 1.0, "mL": 1e3, "m3": 1e-3}.get(turned.unit)
        return [] if per is None else [size * per for size in sold
                                       if not sort.down or size * per < turned.value]  # fmt: skip
    half = many // 2
    if sort.spread == "kelvin":
        low = [turned.value - (turned.value - turned.low) * n / many for n in range(1, many + 1)]
        high = [turned.value + (turned.high - turned.value) * n / half for n in range(1, half + 1)]
        return sorted({*low, *high})
    fall, rise = math.log(turned.value / turned.low), math.log(turned.high / turned.value)
    low = [turned.value * math.exp(-fall * (n / many) ** 1.5) for n in range(1, many + 1)]
    high = [turned.value * math.exp(rise * (n / half) ** 1.5) for n in range(1, half + 1)]
    return sorted({*low, *(high if rise > 0 else [])})


def _feet(scenario: Scenario, data: Any) -> Iterator[Knob]:
    """The feet set wider apart, all alike, by a factor."""
    if scenario.frame is None:
        return
    places: list[tuple[tuple[str | int, ...], float, float, str]] = []
    per_unit: dict[str, tuple[float, float]] = {}
    known, feet = numbers(scenario), scenario.frame.feet
    try:
        for axis in ("x", "y"):
            paths = [f"frame.feet.{foot}.{axis}" for foot in feet]
            found = [_place(scenario, data, path) for path in paths]
            middle = sum(known[path] for path in paths) / len(paths)
            centre = sum(now for _, now, _ in found) / len(found)
            if len({unit for *_, unit in found}) > 1:
                return
            places += [(keys, now, centre, unit) for keys, now, unit in found]
            per_unit |= {path: (known[path], known[path] - middle) for path in paths}
    except RangeError:
        return

    def set_to(changed: Any, to: float) -> None:
        for keys, now, centre, unit in places:
            put(changed, keys, f"{centre + (now - centre) * to:.6g} {unit}")

    turned = Turned("frame.feet", "", 1.0, 1.0, 4.0, set_to)
    values = tuple(1.0 + 3.0 * (n / 15) ** 1.5 for n in range(1, 16))
    yield Knob(turned, "ratio", values, per_unit, "Set the feet times as far apart")
