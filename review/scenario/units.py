"""Quantities at the edge: text with a unit to SI floats, SI floats to text a bench user reads.

Every field declares its dimension. A unit must be in the list of trade units below before pint
sees it, because pint reads `25 C` as coulomb, `5 Mm` as megametre and treats `%` and `ppm` alike.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

from review.scenario.errors import nearest, quoted
from review.scenario.usual import from_si, to_si

Dimension = Literal[
    "length", "position", "volume", "area", "mass", "amount", "time", "temperature",
    "temperature_difference", "pressure_absolute", "pressure", "flow", "quantity", "speed",
    "force", "fraction", "fraction_mole", "fraction_mass", "fraction_volume", "rate_per_time",
    "density", "number", "angle", "power", "stress", "torque",
]  # fmt: skip
By = Literal["volume", "molar", "mass"]
#: How a pressure is read that says neither gauge nor absolute; '' asks which.
Bare = Literal["", "gauge", "absolute"]

ATMOSPHERE = 101325.0  # Pa, standard atmosphere (exact by definition, 10th CGPM 1954)
#: A rating that says neither may be absolute where it is this many times the room's pressure.
SURELY_ABOVE = 1.5


@dataclass(frozen=True, slots=True)
class Stated:
    """An amount or a flow, and by what it was stated.

    SI: m3, mol or kg (for a flow: per second).
    """

    value: float
    by: By


@dataclass(frozen=True, slots=True)
class Spec:
    """How a dimension reads: its name in messages, SI unit, a right spelling, its lower bound.

    What is not 0 is of a `size` between these, far below and above all that is met on a bench
    (common practice, no source): with what lies outside, sums and powers of it overflow.
    """

    name: str
    si: str
    example: str
    least: float | None = 0.0
    size: tuple[float, float] = (1e-15, 1e9)


SPECS: dict[Dimension, Spec] = {
    "length": Spec("length", "m", "20 mm", size=(1e-9, 1e5)),
    "position": Spec("position", "m", "-120 mm", None, size=(1e-9, 1e5)),
    "torque": Spec("torque", "N*m", "2 N m"),
    "volume": Spec("volume", "m**3", "100 mL"),
    "area": Spec("area", "m**2", "2 cm2"),
    "mass": Spec("mass", "kg", "5 g"),
    "amount": Spec("amount", "mol", "0.5 mol"),
    "time": Spec("time", "s", "10 min", size=(1e-6, 1e10)),
    "temperature": Spec("temperature", "K", "480 degC", size=(1e-2, 1e5)),
    "temperature_difference": Spec("temperature difference", "K", "5 K", None, size=(1e-9, 1e5)),
    "pressure": Spec("pressure", "Pa", "0.4 bar gauge", size=(1e-9, 1e10)),
    "pressure_absolute": Spec("absolute pressure", "Pa", "1.2 bar absolute", size=(1e-9, 1e10)),
    "flow": Spec("flow", "m**3/s", "200 mL/min"),
    "quantity": Spec("quantity", "kg", "5 g"),
    "speed": Spec("speed", "m/s", "0.5 m/s", size=(1e-9, 1e4)),
    "force": Spec("force", "N", "10 N"),
    "fraction": Spec("fraction", "", "5 %"),
    "fraction_mole": Spec("mole fraction", "", "5 %"),
    "fraction_mass": Spec("mass fraction", "", "5 %"),
    "fraction_volume": Spec("volume fraction", "", "5 %"),
    "rate_per_time": Spec("rate", "1/s", "4 / hour"),
    "density": Spec("density", "kg/m**3", "1000 kg/m3", size=(1e-6, 1e5)),
    "number": Spec("number", "", "3", None),
    "angle": Spec("angle", "rad", "45 deg", None),
    "power": Spec("power", "W", "500 W"),
    "stress": Spec("stress", "Pa", "20 MPa", size=(1e-9, 1e13)),
}

_STATED: dict[str, tuple[tuple[By, str], ...]] = {
    "flow": (("volume", "m**3/s"), ("molar", "mol/s"), ("mass", "kg/s")),
    "quantity": (("volume", "m**3"), ("molar", "mol"), ("mass", "kg")),
}

_TRADE_UNITS = (
    "m dm cm mm µm um nm km in inch ft "
    "L l dL cL mL ml µL uL cc "
    "kg g mg µg ug t lb oz "
    "mol mmol µmol umol kmol "
    "s ms sec second seconds min minute minutes h hr hour hours d day days week weeks "
    "K kelvin degC celsius degF fahrenheit delta_degC delta_degF "
    "Pa hPa kPa MPa GPa bar mbar psi atm torr Torr mmHg inHg cmH2O inH2O "
    "N mN kN lbf kgf W mW kW J kJ deg degree degrees rad"
)
UNITS = frozenset(_TRADE_UNITS.split())
_PINT_NAME = {"Torr": "torr", "cc": "mL"}

_TRAPS = {
    "C": "'C' is coulomb in unit systems: write '{n} degC'",
    "F": "'F' is farad in unit systems: write '{n} degF'",
}

_PARTS_PER = {"%": 1e2, "ppm": 1e6, "ppb": 1e9}
_SHARE = re.compile(r"(mol|vol|wt|mass)?\s?(%)|(ppm|ppb)([vw]?)")
_SHARE_OF = {"mol": "mole", "vol": "volume", "v": "volume", "wt": "mass", "w": "mass"}

#: Flows of gas at 0 degC and 1 atm by their unit, as SEMI E12 and DIN 1343 have it (from memory).
_AT_NORMAL = {
    "sccm": "mL/min", "SCCM": "mL/min", "slm": "L/min", "SLM": "L/min", "slpm": "L/min",
    "SLPM": "L/min", "NL/min": "L/min", "Nl/min": "L/min", "NmL/min": "mL/min",
    "Nml/min": "mL/min", "NL/h": "L/h", "Nl/h": "L/h", "Nm3/h": "m3/h", "Nm^3/h": "m3/h",
    "mln/min": "mL/min", "ln/min": "L/min", "ln/h": "L/h",
}  # fmt: skip
#: Trade words for flows that name no condition.
_FLOWS = {"ccm": "mL/min", "lpm": "L/min", "LPM": "L/min"}

_LONGEST = 60
_NUMBER = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)(?![0-9.])\s*")
_NOT_FINITE = re.compile(r"[+-]?\.?(nan|inf|infinity)\b", re.IGNORECASE)
_WORD = r"[A-Za-zµ_]+(?:2O)?(?:\^?[23]|\^-[123])?"
_UNIT = re.compile(rf"(?:1?\s*/\s*)?{_WORD}(?:\s*[*/]\s*{_WORD}){{0,3}}")
_NAME = re.compile(r"([A-Za-zµ_]+(?:2O)?)(\^?-?[123])?")
_SAID = re.compile(r"(.+?)(?:\s*\(|\s+)(gauge|absolute|abs|[ga])\)?")
_JOINED = re.compile(r"([mkhM]?Pa|m?bar|psi)([ga])")
_SAYS_ABSOLUTE = frozenset({"atm", "torr", "Torr", "mmHg"})
_SPELLINGS = str.maketrans(
    {
        "\u03bc": "\u00b5",  # Greek mu to the micro sign
        "\u00b7": "*",
        "\u00b2": "^2",
        "\u00b3": "^3",
        "\u2212": "-",  # minus sign
        "\u00a0": " ",
        "\u202f": " ",
        "\u00b0": "deg",
        "\u2103": "degC",
        "\u2109": "degF",
    }
)
_ANGLES = frozenset({"deg", "degree", "degrees", "rad"})
_SCALES = frozenset({"degC", "celsius", "degF", "fahrenheit"})
_DIFFERENCES = frozenset({"delta_degC", "delta_degF"})


def parse(text: str, dimension: Dimension, room: float = ATMOSPHERE, bare: Bare = "") -> float:
    """The SI value of a text of a given dimension; ValueError shows the right spelling.

    Pressures come out absolute (Pa); a gauge pressure counts from the `room`'s, Pa, as a gauge
    does. One that does not say which is read as `bare` says, if it does. `flow` and `quantity`
    need `parse_stated`, which also tells by what they were stated.

    >>> parse("20 mm", "length"), parse("5 %", "fraction"), parse("0 bar gauge", "pressure")
    (0.02, 0.05, 101325.0)
    >>> parse("0.4 bar", "pressure")
    Traceback (most recent call last):
    ValueError: "0.4 bar" does not say which: write '0.4 bar gauge' or '0.4 bar absolute'
    """
    if dimension in _STATED:
        raise TypeError(f"{dimension} is read by parse_stated")
    if dimension != "pressure":
        return _parsed(text, dimension).value
    return _parsed(text, dimension, room, bare).value


def parse_stated(text: str, dimension: Literal["flow", "quantity"]) -> Stated:
    """The SI value of a flow or a quantity and by what it was stated.

    >>> parse_stated("2 m3/s", "flow"), parse_stated("5 g", "quantity")
    (Stated(value=2.0, by='volume'), Stated(value=0.005, by='mass'))
    """
    return _parsed(text, dimension)


def at_normal(text: str) -> bool:
    """Whether a flow's unit says itself that it counts at 0 degC and 1 atm.

    >>> at_normal("50 sccm"), at_normal("50 mL/min")
    (True, False)
    """
    plain = text.translate(_SPELLINGS).strip()
    number = _NUMBER.match(plain)
    return number is not None and plain[number.end() :] in _AT_NORMAL


def clear_memo() -> None:
    """Forget all parsed texts (each text is parsed once per process)."""
    _parsed.cache_clear()


def fraction_basis(text: str) -> str:
    """The basis a fraction's text names (`5 mol%`, `3 wt%`, `20 ppmv`), '' where it names none.

    >>> fraction_basis("5 wt%"), fraction_basis("5 %")
    ('mass', '')
    """
    text = text.strip()
    number = _NUMBER.match(text) if len(text) <= _LONGEST else None
    unit = _SHARE.fullmatch(text[number.end() :]) if number else None
    if not unit:
        return ""
    said = unit[1] or unit[4] or ""
    return _SHARE_OF.get(said, said)


def convert(value: float, unit: str) -> float:
    """An SI value in a display unit: `degC`, `bar absolute`, `%`, `ppm`, `mL/min`, '' ...

    No gauge pressure: that counts from a room's, so whoever shows one subtracts it.

    >>> round(convert(573.15, "degC"), 6), convert(250000.0, "bar absolute")
    (300.0, 2.5)
    """
    if unit in ("", "1"):
        return value
    if unit in _PARTS_PER:
        return value * _PARTS_PER[unit]
    words = _SAID.fullmatch(unit)
    if words and words[2][0] == "a":
        return convert(value, words[1])
    if words:
        raise ValueError(f"{unit!r} counts from a room's pressure: show it absolute, or the rise")
    known = from_si(value, _pint_spelling(unit))
    if known is not None:
        return known
    units, base = _display(unit)
    return float(_registry().Quantity(value, base).to(units).magnitude)


def show(value: float, unit: str) -> str:
    """An SI value as a bench user reads it, with three significant digits.

    >>> show(573.15, "degC"), show(0.05, "%"), show(float("nan"), "mm")
    ('300 degC', '5 %', 'unknown')
    """
    if math.isnan(value):
        return "unknown"
    number = _three_digits(convert(value, unit)) if math.isfinite(value) else f"{value}"
    return f"{number} {unit}".rstrip()


def _three_digits(value: float) -> str:
    if value == 0.0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if not -5 <= size < 7:
        return f"{value:.3g}"
    rounded = round(value, 2 - size)
    text = f"{rounded:.{max(0, 2 - size)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


@lru_cache(maxsize=4096)
def _parsed(text: str, dimension: Dimension, room: float = ATMOSPHERE, bare: Bare = "") -> Stated:
    spec = SPECS[dimension]
    number, unit = _split(text, spec)
    if dimension == "flow":
        unit = _AT_NORMAL.get(unit) or _FLOWS.get(unit, unit)
    if dimension.startswith("fraction"):
        stated = Stated(_fraction(text, number, unit, dimension), "volume")
    elif dimension == "number":
        if unit:
            raise ValueError(f"{quoted(text)} should be a number without unit, as in '3'")
        stated = Stated(number, "volume")
    elif dimension in ("pressure", "pressure_absolute"):
        stated = Stated(_pressure(text, number, unit, dimension, room, bare), "volume")
    else:
        stated = _quantity(text, number, unit, dimension)
    if not math.isfinite(stated.value):
        raise ValueError(f"{quoted(text)} is not a finite number")
    if dimension == "temperature" and stated.value <= 0.0:
        raise ValueError(f"temperature {quoted(text)} is not above absolute zero")
    if spec.least is not None and stated.value < spec.least:
        raise ValueError(f"negative {spec.name} {quoted(text)}")
    low, high = spec.size
    if stated.value and not low <= abs(stated.value) <= high:
        far = "small" if abs(stated.value) < low else "large"
        raise ValueError(f"{spec.name} {quoted(text)} is too {far} for any bench")
    return stated


def _split(text: str, spec: Spec) -> tuple[float, str]:
    clean = text.translate(_SPELLINGS).strip()
    if not clean:
        raise ValueError(f"{spec.name} is empty: write for example '{spec.example}'")
    if len(clean) > _LONGEST:
        raise ValueError(f"{quoted(text)} is too long for a {spec.name}")
    if _NOT_FINITE.match(clean):
        raise ValueError(f"{quoted(text)} is not a finite number")
    number = _NUMBER.match(clean)
    if not number:
        raise ValueError(f"{quoted(text)} is no {spec.name}: write for example '{spec.example}'")
    rest = clean[number.end() :]
    if re.match(r",[0-9]", rest):
        raise ValueError(f"{quoted(text)} has a decimal comma: write a point, '{spec.example}'")
    return float(number[1]), rest


def _fraction(text: str, number: float, unit: str, dimension: str) -> float:
    share = _SHARE.fullmatch(unit)
    if unit and not share:
        raise ValueError(f"{quoted(text)} is no fraction: write for example '5 %' or '500 ppm'")
    value = number / (_PARTS_PER[share[2] or share[3]] if share else 1.0)
    wanted = dimension.removeprefix("fraction").lstrip("_")
    said = fraction_basis(text.translate(_SPELLINGS))
    if wanted and said and said != wanted:
        raise ValueError(f"{quoted(text)} is a {said} fraction, a {wanted} fraction is expected")
    if not 0.0 <= value <= 1.0:
        sign = "negative fraction" if value < 0 else "fraction above 1 (100 %)"
        hint = f": write '{number:g} %'" if not unit and 1.0 < number <= 100.0 else ""
        raise ValueError(f"{sign} {quoted(text)}{hint}")
    return value


def _pressure(
    text: str, number: float, unit: str, dimension: Dimension, room: float, bare: Bare
) -> float:
    words = _SAID.fullmatch(unit) or _JOINED.fullmatch(unit)
    unit, said = (words[1], words[2][0]) if words else (unit, "")
    pascal = _quantity(text, number, unit, dimension).value
    either = not said and unit not in _SAYS_ABSOLUTE
    if either and (bare == "gauge" or (bare == "absolute" and pascal > SURELY_ABOVE * room)):
        either, said = False, bare[0]
    if either:
        right = f"'{number:g} {unit} absolute'"
        if dimension == "pressure":
            right = f"'{number:g} {unit} gauge' or {right}"
        raise ValueError(f"{quoted(text)} does not say which: write {right}")
    if said != "g":
        return pascal
    if dimension == "pressure_absolute":
        raise ValueError(f"{quoted(text)} is a gauge pressure, an absolute one is expected")
    if pascal + room < 0.0:
        raise ValueError(f"pressure {quoted(text)} is below vacuum")
    return pascal + room


def _quantity(text: str, number: float, unit: str, dimension: Dimension) -> Stated:
    spec = SPECS[dimension]
    wrong = f"{quoted(text)} is no {spec.name}: write for example '{spec.example}'"
    if not unit:
        raise ValueError(f"{quoted(text)} has no unit: write for example '{spec.example}'")
    unit = re.sub(r"\s*\bper\s+", "/", unit)
    if dimension == "torque":
        unit = re.sub(r"^([kM]?N)\s*[. ]?\s*(mm|cm|m)$", r"\1*\2", unit)
    if not _UNIT.fullmatch(unit):
        raise ValueError(wrong)
    words = {match[1] for match in _NAME.finditer(unit)}
    _check_words(text, number, words, spec)
    if dimension == "temperature_difference" and words & _SCALES:
        raise ValueError(f"{quoted(text)} is a temperature: write '{number:g} K'")
    # pint counts an angle as a plain number and a difference of kelvins as a temperature.
    if bool(words & _ANGLES) != (dimension == "angle"):
        raise ValueError(wrong)
    if dimension == "temperature" and words & _DIFFERENCES:
        raise ValueError(f"{quoted(text)} is a difference: write '{number:g} degC'")
    wanted = _STATED.get(dimension, (("volume", spec.si),))
    spelled = _pint_spelling(unit)
    known = to_si(number, spelled.replace(" ", ""))
    if known is not None:
        found = next((by for by, si in wanted if si == known[1]), None)
        if found is None:
            raise ValueError(wrong)
        return Stated(known[0], found)
    registry = _registry()
    quantity = registry.Quantity(number, registry.parse_units(spelled))
    for by, si in wanted:
        if quantity.dimensionality == registry.parse_units(si).dimensionality:
            return Stated(float(quantity.to(si).magnitude), by)
    raise ValueError(wrong)


def _check_words(text: str, number: float, words: set[str], spec: Spec) -> None:
    for word in sorted(words):
        if word in _TRAPS:
            raise ValueError(f"{quoted(text)}: " + _TRAPS[word].format(n=f"{number:g}"))
        if word not in UNITS:
            close = nearest(word, sorted(UNITS))
            hint = f" (nearest: '{close}')" if close else ""
            raise ValueError(
                f"unknown unit {quoted(word)} in {quoted(text)}{hint}: "
                f"write for example '{spec.example}'"
            )


def _pint_spelling(unit: str) -> str:
    def one(match: re.Match[str]) -> str:
        power = (match[2] or "").lstrip("^")
        return _PINT_NAME.get(match[1], match[1]) + (f"**{power}" if power else "")

    spelled = _NAME.sub(one, unit.translate(_SPELLINGS))
    return f"1{spelled}" if spelled.startswith("/") else spelled


@lru_cache(maxsize=256)
def _display(unit: str) -> tuple[Any, Any]:
    registry = _registry()
    units = registry.parse_units(_pint_spelling(unit))
    return units, registry.get_base_units(units)[1]


@lru_cache(maxsize=1)
def _registry() -> Any:
    # Importing pint and building its registry takes most of a second: only when a unit is read.
    import pint

    return pint.UnitRegistry()
