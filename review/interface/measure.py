"""Numbers that carry their status and their working.

A `Quantity` is one array over trials with a status beside every value. A `Method` is one published
or derived formula; calling it computes the value, combines the statuses and, when recording is on,
remembers the call, so that the working printed by ``benchgate explain`` is the computation itself.
A `Measure` is what a check hands to the judge.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from review.reference.data import Datum, at_temperature, for_exposure

if TYPE_CHECKING:
    from collections.abc import Iterator

FloatArray = NDArray[np.float64]
StatusArray = NDArray[np.uint8]

#: Statuses in order of distrust; combining quantities keeps the largest.
OK, ESTIMATED, OUTSIDE, MISSING = 0, 1, 2, 3
STATUS_NAMES = ("ok", "estimated", "outside range", "missing")

#: How the source of a quantity begins that is missing for want of something.
LACKS = "not known: "

_recording: ContextVar[bool] = ContextVar("benchgate_recording", default=False)


@contextmanager
def recording(on: bool = True) -> Iterator[None]:
    """Keep the working of every method called inside the block."""
    token = _recording.set(on)
    try:
        yield
    finally:
        _recording.reset(token)


def is_recording() -> bool:
    """Whether the working is kept just now."""
    return _recording.get()


@dataclass(frozen=True, slots=True)
class Call:
    """One recorded use of a method: the working of one quantity."""

    method: Method
    arguments: Mapping[str, Quantity | tuple[Quantity, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Compared:
    """The two figures that a share or a difference is made of, over trials, in SI.

    A reader is told these and not their ratio: `value` is what there is, `edge` what it is held
    against. `display` is the unit a bench user reads; `what` names what it is of, and `warmth` is
    the temperature (K) at which `edge` holds, None where none is told.
    """

    value: FloatArray
    edge: FloatArray
    unit: str
    display: str = ""
    what: str = ""
    warmth: FloatArray | None = None

    def mapped(self, change: Callable[[Any], Any]) -> Compared:
        """The same with each array changed."""
        warmth = None if self.warmth is None else change(self.warmth)
        return replace(self, value=change(self.value), edge=change(self.edge), warmth=warmth)


def together(parts: Sequence[Compared | None]) -> Compared | None:
    """The figures of several chunks of runs side by side; None where one has none."""
    known = [part for part in parts if part is not None]
    if len(known) < len(parts) or not known:
        return None
    warmths = [part.warmth for part in known if part.warmth is not None]
    return replace(
        known[0],
        value=np.concatenate([part.value for part in known], axis=1),
        edge=np.concatenate([part.edge for part in known], axis=1),
        warmth=np.concatenate(warmths, axis=1) if len(warmths) == len(known) else None,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Quantity:
    """One number per trial in SI units with its status.

    Invariant: the status is `MISSING` exactly where the value is NaN.

    >>> q = Quantity.of([1.0, float("nan")], name="pressure", unit="Pa")
    >>> [STATUS_NAMES[s] for s in q.status]
    ['ok', 'missing']
    """

    value: FloatArray
    status: StatusArray
    name: str = ""
    unit: str = ""
    source: str = ""
    origin: Call | None = field(default=None, repr=False)
    compared: Compared | None = field(default=None, repr=False)

    @staticmethod
    def of(
        value: ArrayLike,
        status: ArrayLike = OK,
        *,
        name: str = "",
        unit: str = "",
        source: str = "",
        origin: Call | None = None,
    ) -> Quantity:
        """Build a quantity; enforces `missing` if and only if NaN.

        A value given as `MISSING` becomes NaN, and NaN becomes `MISSING`, so a lost number can
        never look like a number.
        """
        number = np.asarray(value, dtype=np.float64)
        if number.ndim == 0:
            number = number.reshape(1)
        flags = np.asarray(status, dtype=np.uint8)
        nan = np.isnan(number)
        unknown = np.count_nonzero(nan)
        if not unknown and not flags.ndim and flags != MISSING:  # mostly
            flags = np.full(number.shape, flags, dtype=np.uint8)
            return Quantity(number, flags, name, unit, source, origin)
        lost = flags == MISSING
        if flags.shape != number.shape:
            flags = _spread(flags, number.shape)
        if unknown or np.count_nonzero(lost):
            flags = np.where(nan, np.uint8(MISSING), flags).astype(np.uint8)
            number = np.where(lost, np.nan, number)
        return Quantity(number, flags, name, unit, source, origin)

    @staticmethod
    def missing(name: str = "", unit: str = "", *, why: str = "") -> Quantity:
        """A quantity nobody knows; `why` is printed as its source."""
        return Quantity.of(np.nan, name=name, unit=unit, source=why)

    @staticmethod
    def of_datum(
        datum: Datum,
        name: str,
        temperature: ArrayLike | None = None,
        exposed: ArrayLike | None = None,
    ) -> Quantity:
        """A figure of the reference data; one that is `estimated` there stays so here.

        A figure stated by temperature is taken at each `temperature` (K) given, else the lowest
        of it; one stated by time of exposure at the next longer time than `exposed` (s). Where it
        is not stated, or has no number, the quantity is missing.
        """
        if temperature is not None:
            value: ArrayLike = at_temperature(datum, temperature)
        elif exposed is not None:
            value = for_exposure(datum, exposed)
        else:
            value = np.nan if datum.value is None else datum.value
        return Quantity.of(
            value,
            ESTIMATED if datum.how == "estimated" else OK,
            name=name,
            unit=datum.unit.removesuffix(" gauge"),
            source=f"{datum.source} ({datum.how})" if datum.how else datum.state,
        )

    def revised(self, value: ArrayLike, status: ArrayLike = OK) -> Quantity:
        """The same quantity with its name, source and working, other values and statuses."""
        return Quantity.of(
            value,
            status,
            name=self.name,
            unit=self.unit,
            source=self.source,
            origin=self.origin,
        ).comparing(self.compared)

    def made_of(
        self,
        value: ArrayLike,
        edge: ArrayLike,
        unit: str,
        display: str,
        what: str = "",
        warmth: FloatArray | None = None,
    ) -> Quantity:
        """The same quantity with the two figures that it is made of; see `Compared`."""
        there, held = (np.asarray(each, dtype=np.float64) for each in (value, edge))
        return self.comparing(Compared(there, held, unit, display, what, warmth))

    def read_only(self) -> Quantity:
        """The same quantity, which may be handed out more than once: not to be written to."""
        self.value.flags.writeable = self.status.flags.writeable = False
        return self

    def comparing(self, compared: Compared | None) -> Quantity:
        """The same quantity with the two figures that it is made of."""
        if compared is self.compared:
            return self
        return Quantity(
            self.value, self.status, self.name, self.unit, self.source, self.origin, compared
        )  # much quicker than `replace`, and asked of every share


def _spread(flags: StatusArray, shape: tuple[int, ...]) -> StatusArray:
    """One status for all, or statuses that broadcast; filling is quicker than a view."""
    if flags.size == 1:
        return np.full(shape, flags.reshape(())[()], dtype=np.uint8)
    return np.broadcast_to(flags, shape)


@dataclass(frozen=True, slots=True)
class Input:
    """One argument in a method's data sheet."""

    name: str
    symbol: str
    unit: str
    meaning: str


@dataclass(frozen=True, slots=True)
class Method:
    """The data sheet of one formula, and the formula.

    `formula` is one Python expression in the input names over ``sqrt exp log sum min max where pi``
    that a reader can evaluate by hand; a test evaluates it on the printed numbers.
    `valid` receives the input arrays and returns where the formula holds; elsewhere the result is
    `outside range`. `estimated` marks a method that is an estimate by nature.
    """

    id: str
    title: str
    result: str
    unit: str
    formula: str
    inputs: tuple[Input, ...]
    function: Callable[..., Any]
    source: str
    validity: str
    valid: Callable[..., Any] | None = None
    estimated: bool = False
    compares: Callable[..., tuple[Any, Any]] | None = None
    """Of a share or a difference: the two figures that it is made of, from the inputs."""
    compared_in: tuple[str, str] = ("", "")
    """Unit of those two, and the one that a bench user reads."""

    def __post_init__(self) -> None:
        for blank in ("id", "title", "result", "formula", "source", "validity"):
            if not getattr(self, blank).strip():
                raise ValueError(f"method {self.id!r}: {blank} is blank")

    def __call__(self, **given: Quantity | Sequence[Quantity]) -> Quantity:
        """Compute over trials. Variadic inputs are sequences of quantities."""
        arrays: dict[str, Any] = {}
        status: Any = np.uint8(ESTIMATED if self.estimated else OK)
        for name, quantity in given.items():
            if isinstance(quantity, Quantity):
                arrays[name] = quantity.value
                status = np.maximum(status, quantity.status)
            else:
                arrays[name] = [q.value for q in quantity]
                for q in quantity:
                    status = np.maximum(status, q.status)
        with np.errstate(all="ignore"):
            value = np.atleast_1d(np.asarray(self.function(**arrays), dtype=np.float64))
            if self.valid is not None:
                holds = np.asarray(self.valid(**arrays))
                status = np.where(holds, status, np.maximum(status, OUTSIDE))
        origin = None
        if is_recording():
            kept = {k: v if isinstance(v, Quantity) else tuple(v) for k, v in given.items()}
            origin = Call(self, kept)
        done = Quantity.of(value, status, name=self.result, unit=self.unit, origin=origin)
        if self.compares is not None:
            done = done.made_of(*self.compares(**arrays), *self.compared_in)
        if not np.count_nonzero(done.status == MISSING):
            return done
        return replace(done, source=_what_lacks(given.values()))


def _what_lacks(given: Iterable[Quantity | Sequence[Quantity]]) -> str:
    """The inputs that are missing somewhere, down to the figure that nobody gave."""
    lacking: list[str] = []
    for entry in given:
        for q in (entry,) if isinstance(entry, Quantity) else entry:
            if not (q.status == MISSING).any():
                continue
            computed = q.source.startswith(LACKS)
            text = q.source.removeprefix(LACKS) if computed else _named(q)
            lacking += [part for part in parts(text) if part not in lacking]
    return LACKS + "; ".join(lacking) if lacking else ""


def lacking_in(note: str) -> tuple[str, ...]:
    """What a measure's note names as missing, most basic fact first; () where it names nothing.

    >>> lacking_in("not known: bore of tube (not given); gas volume of flask")
    ('bore of tube (not given)', 'gas volume of flask')
    """
    if not note.startswith(LACKS):
        return (note,) if note else ()
    return tuple(dict.fromkeys(parts(note.removeprefix(LACKS))))


@lru_cache(maxsize=4096)
def parts(text: str) -> tuple[str, ...]:
    """The parts between semicolons that stand in no brackets.

    >>> parts("joint of pump (not given; its maker knows); gas volume of flask")
    ('joint of pump (not given; its maker knows)', 'gas volume of flask')
    """
    found, depth = [""], 0
    for character in text:
        depth = max(0, depth + {"(": 1, ")": -1}.get(character, 0))
        if character == ";" and not depth:
            found.append("")
        else:
            found[-1] += character
    return tuple(part.strip() for part in found if part.strip())


def _named(quantity: Quantity) -> str:
    name = quantity.name or "a figure"
    return f"{name} ({quantity.source})" if quantity.source else name


@dataclass(frozen=True, slots=True, eq=False)
class Measure:
    """One computed quantity of one kind, at one place, over all trials.

    `value` and `status` have shape ``(cells, runs)``; cell 0 is the stated steady plan, cells 1…
    are the steps of the procedure. `at` is the place (an item, a step, the room …), `of` the
    substance or pair it speaks of, or "".
    """

    kind: str
    at: str
    of: str
    unit: str
    value: FloatArray
    status: StatusArray
    method: str
    note: str = ""
    limits_hash: str = ""
    """Of the ruleset limits its computation read; another hash means that it must be redone."""
    working: Quantity | None = field(default=None, repr=False)
    compared: Compared | None = field(default=None, repr=False)
    """The two figures behind `value`, where it is a share or a difference; not stored."""
