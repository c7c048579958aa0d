"""What reference data is: figures with provenance, curves, substances, materials, joints.

What nobody looked up is `unknown`, what cannot apply is `none`, and neither is a number.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from review.reference.properties import RATINGS

#: Classes that speak of other dangers than attack on a material.
NO_ATTACK = frozenset(
    {"peroxide former", "polymerisable", "strong reducer", "combustible solid"}
    | {"halide salt", "lye", "nitrite", "carboxylate"}  # what they make with others
    | {"explosive", "water-reactive"}  # what they become with water has a class of its own
)
#: What a rating of a solution has behind the name of the substance or the class.
IN_WATER = " in water"
FloatArray = NDArray[np.float64]
GAS_CONSTANT = 8.31446261815324  # J/(mol K), SI 2019, exact


class DataError(ValueError):
    """A reference file is wrong; the message names file and line."""


class UnknownName(LookupError):
    """No file answers to a name, or several do; `nearest` holds the closest of the known spellings.

    They are looked for only when asked: a check may ask for many a name that no file has.
    """

    def __init__(
        self, kind: str, text: str, known: Collection[str] = (), several: Sequence[str] = ()
    ) -> None:
        self.why = f'"{text}" fits {" and ".join(several)}: name one' if several else ""
        super().__init__(kind, text)
        self.kind, self.text, self._known = kind, text, known

    @cached_property
    def nearest(self) -> tuple[str, ...]:
        found = difflib.get_close_matches(key(self.text), list(self._known), n=3, cutoff=0.6)
        return tuple(name for name in found if not name.endswith("%"))

    def __str__(self) -> str:
        hint = f"; nearest: {', '.join(self.nearest)}" if self.nearest else ""
        return self.why or f"unknown {self.kind} {self.text!r}{hint}"


@dataclass(frozen=True, slots=True)
class Datum:
    """One figure in SI units with where it comes from.

    `state` is `known` exactly when `value` is a number; `none` means the property does not apply,
    `unknown` that no source was found. `spread` is the range of published values. A figure that
    depends on temperature (K) or on the time exposed (s) is `stated` at points that rise, and its
    `value` is then the lowest of them.
    """

    value: float | None
    unit: str
    source: str = ""
    how: str = ""
    spread: tuple[float, float] | None = None
    state: Literal["known", "none", "unknown"] = "known"
    apparatus: str = ""
    stated: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Curve:
    """A property over temperature: a named form, its coefficients (K, Pa) and its range in K."""

    form: str
    coefficients: tuple[float, ...]
    low: float
    high: float
    source: str = ""
    how: str = ""
    state: Literal["known", "none", "unknown"] = "known"


@dataclass(frozen=True, slots=True)
class Substance:
    """A substance; flags, hazard statements and classes are None where unknown: never a credit."""

    name: str
    cas: str
    formula: str
    synonyms: tuple[str, ...]
    combustible: bool | None
    oxidiser: bool | None
    inert: bool | None
    burns_without_oxygen: bool | None
    pyrophoric: bool | None
    phase_at_20C: str
    skin_corrosion: str
    skin_corrosion_source: str
    hazard_statements: tuple[str, ...] | None
    hazard_statements_source: str
    classes: tuple[str, ...] | None
    classes_source: str
    properties: Mapping[str, Datum] = field(repr=False)
    curves: Mapping[str, Curve] = field(repr=False)
    looked_up: bool = False
    """Whether no file describes it: what a library's data sets say is all there is."""
    reason: str = ""
    """Why a file is milder than the shipped one that it overrides."""

    @property
    def molar_mass(self) -> float:
        """Molar mass, kg/mol."""
        value = self.properties["molar_mass"].value
        if value is None:
            raise DataError(f"{self.name}: molar mass is not known")
        return value

    @property
    def elements(self) -> dict[str, float]:
        """Atoms of each element in its formula; none at all where it has no formula."""
        return {} if self.formula == "none" else parse_formula(self.formula)

    def datum(self, name: str) -> Datum:
        """The figure called `name`; KeyError for a name that is no property."""
        return self.properties[name]

    def number(self, name: str) -> float:
        """The figure called `name` as a number, NaN where it is not known or does not apply."""
        value = self.properties[name].value
        return float("nan") if value is None else value

    def curve(self, name: str) -> Curve:
        """The curve called `name`; KeyError for a name that is no curve."""
        return self.curves[name]

    @property
    def can_be_gas(self) -> bool:
        """Whether it takes part in a gas.

        A solid without a known vapour pressure does not, nor what has none by its data (`none`).
        """
        state = self.curve("vapour_pressure").state
        return (
            self.phase_at_20C == "gas"
            or state == "known"
            or (self.phase_at_20C != "solid" and state != "none")
        )


#: A strength is a limit that it passes by no more than arithmetic.
ROUNDING = 1 + 1e-9


@dataclass(frozen=True, slots=True)
class Rating:
    """How a material bears a substance, up to `temperature_limit` (K) where stated.

    Up to `resistant_to` (K), where stated, attack is too slow to matter in a run. `hotter` has
    words for higher temperatures: up to each (K, perhaps infinite) the word beside it. The rating
    of a solution holds up to `strongest` (mass fraction), and `stronger` has words up to higher
    strengths.
    """

    word: str
    source: str
    how: str
    temperature_limit: float | None = None
    resistant_to: float | None = None
    hotter: tuple[tuple[float, str], ...] = ()
    strongest: float = 1.0
    stronger: tuple[tuple[float, str], ...] = ()

    def for_strength(self, strength: float) -> Rating | None:
        """What holds for a solution of this mass fraction; None above all that is stated."""
        if strength <= self.strongest * ROUNDING:
            return self
        for limit, word in self.stronger:
            if strength <= limit * ROUNDING:
                return replace(self, word=word, hotter=(), strongest=limit, stronger=())
        return None

    @property
    def last(self) -> float:
        """The temperature, K, above which nothing is known of the pair."""
        if self.hotter:
            return self.hotter[-1][0]
        return np.inf if self.temperature_limit is None else self.temperature_limit

    def at(self, temperature: ArrayLike) -> FloatArray:
        """Place in `RATINGS` of the word that holds at each temperature, beyond `last` its own."""
        steps = [(self.last, self.word), *self.hotter]
        if self.hotter and self.temperature_limit is not None:
            steps[0] = (self.temperature_limit, self.word)
        words = np.array([float(RATINGS.index(word)) for _, word in steps])
        place = np.searchsorted([limit for limit, _ in steps], np.asarray(temperature))
        return words[np.minimum(place, len(steps) - 1)]


@dataclass(frozen=True, slots=True)
class Material:
    """A material of construction; `ratings` by the substance's own name.

    A rating under `NAME in water` holds where the substance is dissolved in water. `class_ratings`
    hold for substances of a class that have no rating of their own.
    """

    name: str
    synonyms: tuple[str, ...]
    kind: str
    burn_class: str
    classes: tuple[str, ...] | None
    classes_source: str
    properties: Mapping[str, Datum] = field(repr=False)
    ratings: Mapping[str, Rating] = field(repr=False)
    class_ratings: Mapping[str, Rating] = field(repr=False)
    reason: str = ""
    """Why a file is milder than the shipped one that it overrides."""

    def datum(self, name: str) -> Datum:
        """The figure called `name`; KeyError for a name that is no property."""
        return self.properties[name]

    def rating(self, substance: Substance, in_water: float | None = None) -> Rating | None:
        """How it bears a substance: by its own name, else the worst by its classes; None: unknown.

        `in_water` is its mass fraction where it is dissolved in water: a rating of the solution
        comes first, and what is stronger than all that are rated counts as the neat substance.
        Each class that says what a substance does to materials must be rated, unless one of them
        is already `not suitable`.
        """
        own = self._one(self.ratings, substance.name, in_water)
        if own is not None or not substance.classes:
            return own
        asked = [name for name in substance.classes if name not in NO_ATTACK]
        each = (self._one(self.class_ratings, name, in_water) for name in asked)
        known = [rating for rating in each if rating is not None]
        if not known:
            return None
        worst = max(known, key=lambda r: (RATINGS.index(r.word), -r.last))
        return worst if len(known) == len(asked) or worst.word == RATINGS[-1] else None

    @staticmethod
    def _one(listed: Mapping[str, Rating], name: str, in_water: float | None) -> Rating | None:
        dissolved = None if in_water is None else listed.get(f"{name}{IN_WATER}")
        found = None if dissolved is None else dissolved.for_strength(in_water or 0.0)
        return found or listed.get(name)


@dataclass(frozen=True, slots=True)
class Joint:
    """A kind of joint, the gauge pressure it holds (`none`: it cannot come apart) and its seal.

    `seal` names the material that seals, or is `wall`, `hose`, `none` or `unknown`. What `lifts` is
    only pushed together: it comes apart and lets gas out before glass breaks.
    """

    name: str
    rating: Datum
    synonyms: tuple[str, ...] = ()
    seal: str = "unknown"
    lifts: bool = False
    bought: bool = False

    def holds(self, bore: float | None, wall: str) -> Datum:
        """The gauge pressure it holds on a tube of that bore, m, and wall, a kind of material: two
        ferrules bite metal, best if it is narrow; glass and plastic slip out of them."""
        if self.name != FERRULES:
            return self.rating
        if wall != "metal":
            held = GRIPPED if wall == "polymer" else SLIPS
            return replace(self.rating, value=held, source=SLIPS_SOURCE)
        if bore is not None and bore <= NARROW:
            return replace(self.rating, value=SMALL_FERRULES, source=SMALL_SOURCE)
        return self.rating


#: Two ferrules on metal tube of a bore up to so much, m, and what they hold there, Pa gauge.
FERRULES, NARROW, SMALL_FERRULES = "twin-ferrule tube fitting", 6e-3, 40e5
SMALL_SOURCE = "metal tube up to 6 mm bore; makers rate it above 200 bar, from memory"
#: What they hold of plastic tube, as a push-in fitting does, and of glass or anything else, as a
#: ring seal does, Pa gauge.
GRIPPED, SLIPS = 2e5, 1e5
SLIPS_SOURCE = "common practice, no source, the low end: soft ferrules or a ring only grip the tube"
#: A salt and what it holds bound: `CuSO4·5H2O`, also with `*` or, of water, a full stop.
HYDRATE = re.compile(
    r"^(?P<salt>\S+)(?:\s*[·•⋅*]\s*|\.(?=\d*H2O$))(?P<count>\d*\.?\d*)\s*(?P<more>[A-Z(\[].*)$"
)


def parse_formula(text: str) -> dict[str, float]:
    """Count the elements of a chemical formula.

    Nested brackets and fractional counts are read; a phase mark such as ``(s)`` or ``(aq)`` at the
    end is ignored. Raises ValueError for anything else.

    >>> parse_formula("(CH3)2CO")
    {'C': 3.0, 'H': 6.0, 'O': 1.0}
    >>> parse_formula("Cu(NH3)4SO4(aq)")
    {'Cu': 1.0, 'N': 4.0, 'H': 12.0, 'S': 1.0, 'O': 4.0}
    >>> parse_formula("CuSO4·5H2O")
    {'Cu': 1.0, 'S': 1.0, 'O': 9.0, 'H': 10.0}
    """
    bare = re.sub(r"\((s|l|g|aq)\)$", "", text.strip())
    if hydrate := HYDRATE.match(bare):
        whole, times_bound = parse_formula(hydrate["salt"]), float(hydrate["count"] or 1)
        for symbol, bound in parse_formula(hydrate["more"]).items():
            whole[symbol] = whole.get(symbol, 0.0) + bound * times_bound
        return whole
    stack: list[dict[str, float]] = [{}]
    end = 0
    for token in re.finditer(r"([A-Z][a-z]?)(\d+\.?\d*)?|([(\[])|([)\]])(\d+\.?\d*)?", bare):
        if token.start() != end:
            break
        end = token.end()
        element, count, opening, _, times = token.groups()
        if element:
            stack[-1][element] = stack[-1].get(element, 0.0) + float(count or 1)
        elif opening:
            stack.append({})
        elif len(stack) < 2:
            raise ValueError(f"formula {text!r}: bracket closed that was never opened")
        else:
            for symbol, inner in stack.pop().items():
                stack[-1][symbol] = stack[-1].get(symbol, 0.0) + inner * float(times or 1)
    if end != len(bare) or len(stack) != 1 or not stack[0]:
        raise ValueError(f"formula {text!r} cannot be read at {bare[end:] or 'its end'!r}")
    return stack[0]


def _antoine(t: FloatArray, c: Sequence[float]) -> FloatArray:
    return np.asarray(10.0 ** (c[0] - c[1] / (t + c[2])))


def _dippr101(t: FloatArray, c: Sequence[float]) -> FloatArray:
    return np.asarray(np.exp(c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t ** c[4]))


def _wagner(t: FloatArray, c: Sequence[float]) -> FloatArray:
    gap = np.maximum(1.0 - t / c[4], 0.0)  # above the critical point the form has no meaning
    terms = c[0] * gap + c[1] * gap**1.5 + c[2] * gap**3 + c[3] * gap**6
    return np.asarray(c[5] * np.exp(terms * c[4] / t))


def _polynomial(t: FloatArray, c: Sequence[float]) -> FloatArray:
    return np.asarray(np.polynomial.polynomial.polyval(t, c))


_CURVES: dict[str, Callable[[FloatArray, Sequence[float]], FloatArray]] = {
    "antoine": _antoine, "dippr101": _dippr101, "wagner": _wagner, "polynomial": _polynomial,
}  # fmt: skip


def _evaluate(curve: Curve, t: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    if curve.state != "known":
        return np.full(t.shape, np.nan), np.zeros(t.shape, dtype=bool)
    with np.errstate(all="ignore"):
        inside = (t >= curve.low) & (t <= curve.high)
        return _CURVES[curve.form](t, curve.coefficients), inside


def vapour_pressure(
    substance: Substance | Curve, temperature: ArrayLike
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Vapour pressure in Pa and whether each temperature (K) lies in the fit's range.

    Forms: ``antoine`` log10 p = A - B/(T + C); ``dippr101`` ln p = A + B/T + C ln T + D T^E;
    ``wagner`` (1, 1.5, 3, 6). NaN and False where the substance has no curve.
    """
    t = np.asarray(temperature, dtype=np.float64)
    curve = substance if isinstance(substance, Curve) else substance.curve("vapour_pressure")
    return _evaluate(curve, t)


def heat_capacity_gas(
    substance: Substance, temperature: ArrayLike
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Ideal-gas heat capacity in J/(mol K) and whether each temperature (K) is in range.

    Outside the range the value at its nearer end is returned: a polynomial must not be stretched.
    """
    curve = substance.curve("heat_capacity_gas")
    t = np.asarray(temperature, dtype=np.float64)
    value, _ = _evaluate(curve, np.clip(t, curve.low, curve.high))
    return value * GAS_CONSTANT, _evaluate(curve, t)[1]


def at_temperature(datum: Datum, temperature: ArrayLike) -> FloatArray:
    """A figure at each temperature (K), straight lines between the points it is stated at.

    Below the lowest point that point's value holds; above the highest it is not known (NaN). A
    figure stated without temperatures is the same at all of them.
    """
    t = np.asarray(temperature, dtype=np.float64)
    if datum.value is None or not datum.stated:
        return np.full(t.shape, np.nan if datum.value is None else datum.value)
    points, values = zip(*datum.stated, strict=True)
    inside = np.interp(t, points, values)
    return np.where(t <= points[-1], inside, np.nan)


def for_exposure(datum: Datum, seconds: ArrayLike) -> FloatArray:
    """A figure stated by time of exposure: that of the next longer time stated.

    Below the shortest time the shortest one's value holds; above the longest it is not known (NaN).
    """
    t = np.asarray(seconds, dtype=np.float64)
    if datum.value is None or not datum.stated:
        return np.full(t.shape, np.nan)
    times, values = zip(*datum.stated, strict=True)
    place = np.searchsorted(times, t, side="left")  # NaN sorts behind the longest time
    return np.append(values, np.nan)[place]


@lru_cache(maxsize=4096)
def key(text: str) -> str:
    """Spelling with case, spaces, underscores and hyphens levelled.

    >>> key("n-Hexane") == key("N_hexane")
    True
    """
    return re.sub(r"[\s_-]+", " ", text.strip().lower())
