"""Readings of a run against its plan: where and when they left it.

A log is a table: a column `time` (`12:30`, `1:02:30`, or numbers with a unit in the heading) or
`step`, and a column for each reading, named as in the file and with its unit: `argon [mL/min]` for
a flow, `furnace [degC]` for a heat source, `train.pressure@tube [bar gauge]` for a measure.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from review.interface.plugin import Kind, worst_first
from review.interface.result import Review
from review.register.record import RecordError
from review.render.words import clean, counted, listed, quantity
from review.scenario import Scenario
from review.scenario.units import Stated, parse, parse_stated, show

#: How far a reading may lie from the plan where the file states no accuracy: a share of it, and of
#: a temperature in K (common practice, no source).
SHARE, KELVIN = 0.1, 10.0
#: A flow that is off may read so much of its stated rate.
_OFF = 0.05
LARGEST, _MOST_ROWS, _MOST_TOLD = 20_000_000, 500_000, 20
_HEAD = re.compile(r"\s*(.*?)\s*(?:\[\s*(.*?)\s*\])?\s*")
_CLOCK = re.compile(r"(\d{1,3}):(\d\d)(?::(\d\d(?:\.\d+)?))?")


@dataclass(frozen=True, slots=True)
class Log:
    """The rows of a log, by column; a reading is NaN where a cell is blank.

    `seconds` counts from the start, NaN where no time is given; `steps` is "" where none is.
    """

    seconds: tuple[float, ...]
    steps: tuple[str, ...]
    columns: Mapping[str, tuple[str, tuple[float, ...]]]


@dataclass(frozen=True, slots=True)
class Compared:
    """What there is to say, and whether any reading left the plan."""

    told: tuple[str, ...]
    left: bool


@dataclass(frozen=True, slots=True)
class _Bounds:
    """Between what a reading may lie in a step, SI; NaN: not bounded. `planned` in words."""

    low: float
    high: float
    planned: str


def read_log(data: bytes, name: str) -> Log:
    """The log in a file's bytes; raises RecordError, naming the line, where it is none."""
    name = clean(name)
    if len(data) > LARGEST:
        raise RecordError(f"{name} is too large for a log: at most {LARGEST} bytes")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RecordError(f"{name} is not UTF-8 text") from None
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else "\t" if "\t" in first else ","
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    except csv.Error as error:
        raise RecordError(f"{name} is no table of readings: {error}") from error
    rows = rows[: _MOST_ROWS + 2]
    if len(rows) < 2:
        raise RecordError(f"{name} holds no readings: a heading and at least one row are needed")
    if len(rows) > _MOST_ROWS + 1:
        raise RecordError(f"{name} has too many rows: at most {_MOST_ROWS}")
    heads = [_HEAD.fullmatch(head) for head in rows[0]]
    names = [(found[1], found[2] or "") if found else ("", "") for found in heads]
    plain = [head.lower() for head, _ in names]
    if not {"time", "step"} & set(plain):
        raise RecordError(f"{name}:1: no column is called 'time' or 'step'")
    doubled = [head for head in plain if head and plain.count(head) > 1]
    if doubled:
        raise RecordError(f"{name}:1: two columns are called {clean(doubled[0])!r}")
    body = [(n, row) for n, row in enumerate(rows[1:], 2) if any(cell.strip() for cell in row)]
    cells = {
        head: [(n, row[at].strip() if at < len(row) else "") for n, row in body]
        for at, head in enumerate(plain)
    }
    comma = delimiter == ";"
    if comma and "time" in cells:
        cells["time"] = [(n, text.replace(",", ".")) for n, text in cells["time"]]
    seconds = _times(cells.get("time"), dict(zip(plain, names, strict=True)), name, len(body))
    return Log(
        seconds,
        tuple(text for _, text in cells.get("step", ())) or ("",) * len(body),
        {
            head: (unit, tuple(_value(text, n, head, name, comma) for n, text in cells[low]))
            for low, (head, unit) in zip(plain, names, strict=True)
            if head and low not in ("time", "step")
        },
    )


def _value(text: str, line: int, column: str, name: str, comma: bool) -> float:
    if not text:
        return math.nan
    try:
        value = float(text.replace(",", ".") if comma else text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise RecordError(f"{name}:{line}: {clean(text)[:40]!r} is no reading of {clean(column)}")
    return value


def _times(
    cells: list[tuple[int, str]] | None,
    names: Mapping[str, tuple[str, str]],
    name: str,
    count: int,
) -> tuple[float, ...]:
    if cells is None:
        return (math.nan,) * count
    unit, found = names["time"][1], []
    for line, text in cells:
        clock = _CLOCK.fullmatch(text)
        try:
            if clock:
                found.append(60 * (60 * int(clock[1]) + int(clock[2])) + float(clock[3] or 0))
            else:
                found.append(parse(f"{text} {unit}", "time"))
        except ValueError:
            hint = "" if unit else "; write it as 0:12:30, or the unit in the heading: time [min]"
            raise RecordError(f"{name}:{line}: {clean(text)[:40]!r} is no time{hint}") from None
    return tuple(found)


def against_plan(log: Log, scenario: Scenario, review: Review) -> Compared:
    """Every column against what each step plans; `left` is set where a reading lies beyond."""
    steps = _steps_of(log, scenario)
    names = [step.step for step in scenario.procedure]
    told, strange, left, compared = [], [], False, 0
    for column, (unit, values) in log.columns.items():
        plan = _plan(column, unit, scenario, review)
        if plan is None:
            strange.append(column)
            continue
        compared += 1
        read, bounds = plan
        lines = list(_beyond(column, unit, values, log, steps, read, bounds, names))
        left |= bool(lines)
        told += lines or [f"{clean(column)}: as planned"]
    rest = len(told) - _MOST_TOLD
    if rest > 0:
        told = [*told[:_MOST_TOLD], f"and {counted(rest, 'other line')}"]
    if strange:
        told.append(f"not compared, since the plan knows no such reading: {listed(strange)}")
    if not compared:
        told.append("no column was compared")
    return Compared(tuple(map(clean, told)), left)


def _steps_of(log: Log, scenario: Scenario) -> list[int]:
    """The step of each row by its number, one more than there are once all are over.

    By name where the log says it, else by the planned times.
    """
    names = [step.step for step in scenario.procedure]
    ends = np.cumsum([step.duration for step in scenario.procedure])
    found = []
    for seconds, name in zip(log.seconds, log.steps, strict=True):
        if name and name not in names:
            raise RecordError(f"the plan has no step {clean(name)!r}: {listed(names)}")
        if name:
            found.append(names.index(name))
        else:
            late = (
                math.nan if math.isnan(seconds) else float(np.searchsorted(ends, seconds, "right"))
            )
            found.append(len(names) if math.isnan(late) else int(late))
    return found


_Plan = tuple[Callable[[float], float], Sequence[_Bounds]]


def _plan(column: str, unit: str, scenario: Scenario, review: Review) -> _Plan | None:
    """How a column is read into SI units, and its bounds in each step and afterwards."""
    if column in scenario.flows:
        return (lambda value: parse_stated(f"{value} {unit}", "flow").value), _flow(
            column, scenario
        )
    if column in scenario.heat:
        return (lambda value: parse(f"{value} {unit}", "temperature")), _heat(column, scenario)
    kind = review.kinds.get(column.partition("@")[0])
    at, _, of = column.partition("@")[2].partition(":")
    for measure in review.measures:
        if kind and (measure.kind, measure.at, measure.of) == (kind.id, at, of):
            bounds = _measured(kind, measure.value[:, 0], scenario)
            return _reader(kind, unit, scenario.ambient.pressure), bounds
    return None


def _settings(section: str, name: str, scenario: Scenario) -> Iterator[object]:
    """What is set in each step, and "off" afterwards; before the first setting all is off."""
    now: object = "off"
    for step in scenario.procedure:
        now = getattr(step, section).get(name, now)
        yield now
    yield "off"


def _flow(name: str, scenario: Scenario) -> list[_Bounds]:
    flow = scenario.flows[name]
    share = SHARE if flow.accuracy is None else max(float(flow.accuracy), 1e-3)
    found = []
    for said in _settings("flows", name, scenario):
        rate = said.value if isinstance(said, Stated) else flow.rate.value
        if said == "off":
            found.append(_Bounds(math.nan, _OFF * flow.rate.value, "off"))
        else:
            told = f"{100 * share:.3g} % allowed"
            found.append(_Bounds(rate * (1 - share), rate * (1 + share), told))
    return found


def _heat(name: str, scenario: Scenario) -> list[_Bounds]:
    heat = scenario.heat[name]
    found = []
    for said in _settings("heat", name, scenario):
        set_to = said if isinstance(said, float) else heat.set_temperature
        if said == "off" or set_to is None:
            high = math.nan if heat.hottest is None else heat.hottest
            found.append(_Bounds(math.nan, high, "at most the hottest reviewed"))
        else:
            most = set_to + KELVIN
            high = most if heat.hottest is None else min(most, heat.hottest)
            found.append(_Bounds(math.nan, high, f"{show(set_to, 'degC')} planned"))
    return found


def _measured(kind: Kind, plan: np.ndarray, scenario: Scenario) -> list[_Bounds]:
    """On the side that harms; cells are the stated plan, each step, and afterwards."""
    found = []
    count = len(scenario.procedure) + 1
    for value in plan[1 : count + 1] if scenario.procedure else plan[-1:]:
        slack = KELVIN if kind.unit == "K" else SHARE * abs(float(value))
        told = f"{quantity(float(value), kind.unit, kind.display)} planned"
        if float(worst_first(kind, 1.0)) > 0:
            found.append(_Bounds(math.nan, float(value) + slack, told))
        else:
            found.append(_Bounds(float(value) - slack, math.nan, told))
    return found


def _reader(kind: Kind, unit: str, room: float) -> Callable[[float], float]:
    dimensions = {"K": "temperature", "Pa": "pressure", "m": "length", "s": "time", "1": "fraction"}
    dimension = dimensions.get(kind.unit)
    if dimension is None:
        return lambda value: value
    return lambda value: parse(f"{value} {unit}".strip(), dimension, room)  # type: ignore[arg-type]


def _beyond(
    column: str,
    unit: str,
    values: Sequence[float],
    log: Log,
    steps: Sequence[int],
    read: Callable[[float], float],
    bounds: Sequence[_Bounds],
    names: Sequence[str],
) -> Iterator[str]:
    """A sentence for each stretch of rows in one step in which a reading lies beyond its bounds."""
    open_: tuple[int, int, float] | None = None  # first row, worst row, how far beyond
    last = 0
    for n, value in enumerate((*values, math.nan)):
        far, step = 0.0, steps[n] if n < len(steps) else -1
        if n < len(steps) and not math.isnan(value):
            try:
                far = _far(read(value), bounds[min(step, len(bounds) - 1)])
            except ValueError as error:
                raise RecordError(f"column {clean(column)}: {error}") from None
        elif n < len(steps) and math.isnan(value):
            continue
        if open_ is not None and (not far or step != steps[open_[0]]):
            yield _told(column, unit, values, log, steps, bounds, (open_[0], open_[1], last), names)
            open_ = None
        if far:
            open_ = (n, n, far) if open_ is None else (
                open_ if far <= open_[2] else (open_[0], n, far))  # fmt: skip
            last = n


def _far(value: float, bounds: _Bounds) -> float:
    """How far beyond its bounds, of whatever side; 0 within."""
    over = 0.0 if math.isnan(bounds.high) else value - bounds.high
    under = 0.0 if math.isnan(bounds.low) else bounds.low - value
    return max(over, under, 0.0) if max(over, under) > 1e-9 * max(abs(value), 1e-12) else 0.0


def _told(
    column: str,
    unit: str,
    values: Sequence[float],
    log: Log,
    steps: Sequence[int],
    bounds: Sequence[_Bounds],
    rows: tuple[int, int, int],
    names: Sequence[str],
) -> str:
    first, worst, last = rows
    number = steps[first]
    where = f'in step "{names[number]}"' if number < len(names) else "after the last step"
    timed = not math.isnan(log.seconds[first])
    when = f" from {_clock(log.seconds[first])} to {_clock(log.seconds[last])}" if timed else ""
    planned = bounds[min(number, len(bounds) - 1)].planned
    return f"{column} read {values[worst]:g} {unit}{when}, {where} ({planned})"


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes // 60}:{minutes % 60:02d}:{rest:02d}"
