"""The working of one measure, printed as one would write it by hand.

Nothing here computes: the steps are the recorded calls, and the numbers are those that went
through them. They are printed with as many digits as it takes to get the printed result back.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from rich.console import Console

from review.cautions import DEFERS
from review.interface.measure import MISSING, OK, STATUS_NAMES, Call, Method, Quantity
from review.interface.plugin import Kind
from review.render import words
from review.render.page import Page

_NAME = re.compile(r"\b[A-Za-z_]\w*\b")
_NAN = re.compile(r"\bnan\b")
_DIGITS = (6, 9, 12, 17)
#: Printed numbers give the printed result back this closely.
_AGREES = 1e-4

Value = float | tuple[float, ...]


class Explained(Protocol):
    """What the engine's explanation offers."""

    @property
    def measure_kind(self) -> Kind: ...
    @property
    def at(self) -> str: ...
    @property
    def of(self) -> str: ...
    @property
    def trial(self) -> str: ...
    @property
    def step(self) -> str: ...
    @property
    def quantity(self) -> Quantity: ...
    @property
    def index(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Given:
    """One input of a step: what it is and where it comes from."""

    name: str
    symbol: str
    meaning: str
    unit: str
    source: str


@dataclass(frozen=True, slots=True)
class WorkingStep:
    """One use of one formula.

    `values` holds the SI numbers by input name (a tuple for a list of inputs), `printed` the same
    as text that Python can evaluate, so that `formula` can be worked out again from what is shown.
    """

    number: int
    method: Method
    formula: str
    given: tuple[Given, ...]
    values: Mapping[str, Value]
    printed: Mapping[str, str]
    result: float
    printed_result: str
    status: str

    @property
    def symbolic(self) -> str:
        """The formula in the symbols of its inputs."""
        symbols = {g.name: g.symbol or g.name for g in self.given}
        return _by_hand(_substituted(self.formula, symbols))

    @property
    def substituted(self) -> str:
        """The formula with the numbers put in."""
        return _by_hand(
            _substituted(self.formula, {n: _NAN.sub("?", t) for n, t in self.printed.items()})
        )

    @property
    def shown(self) -> Mapping[str, str]:
        """The numbers with their units; what is missing is said to be not known."""
        return {g.name: _with_unit(self.printed[g.name], g.unit) for g in self.given}

    @property
    def outcome(self) -> str:
        """The result with its unit, or that it is not known."""
        return _with_unit(self.printed_result, self.method.unit)


def working_steps(quantity: Quantity, index: int) -> list[WorkingStep]:
    """Every distinct recorded call behind a quantity, inputs before what uses them.

    `index` picks the trial; an array of one value holds for every trial.
    """
    steps: list[WorkingStep] = []
    numbers: dict[int, int] = {}
    waiting: list[tuple[Quantity, bool]] = [(quantity, False)]
    while waiting:
        current, ready = waiting.pop()
        call = current.origin
        if call is None or id(call) in numbers:
            continue
        if ready:
            numbers[id(call)] = len(steps) + 1
            steps.append(_step(current, call, index, numbers))
        else:
            waiting.append((current, True))
            inputs = [q for a in call.arguments.values() for q in _listed(a)]
            waiting.extend((q, False) for q in reversed(inputs))
    return steps


def render_explain(explained: Explained, console: Console) -> None:
    """Print the working of one measure at one place in one trial."""
    kind, quantity, index = explained.measure_kind, explained.quantity, explained.index
    page = Page(console)
    where = words.place(explained.at, explained.of)
    page.text(f"{kind.title}: {where}" if where else kind.title, style="bold")
    page.text(f"{kind.id}; worse when {kind.worse}")
    page.text(explained.trial, label="Run:")
    page.text(explained.step, label="Step:")
    steps = working_steps(quantity, index)
    for step in steps:
        _print_step(page, step)
    value = _at(quantity.value, index)
    page.heading("Result")
    if kind.labels:
        shown = words.rating(value, kind.labels)
    else:
        shown = words.quantity(value, quantity.unit or kind.unit, kind.display)
    status = STATUS_NAMES[int(_at(quantity.status, index))]
    page.text(f"{shown} (status: {status})", indent=4)
    if not steps:
        source = quantity.source or "no source recorded"
        page.text(f"{source}. No formula was used.", indent=4, label="From:")
    page.text(kind.source, indent=4, label="Source:")
    page.text(kind.validity, indent=4, label="Holds:")
    page.blank()
    page.text(DEFERS)


def _print_step(page: Page, step: WorkingStep) -> None:
    method = step.method
    page.heading(f"({step.number}) {method.title}")
    page.text(f"{method.result} = {step.symbolic}", indent=4)
    page.text("where", indent=4)
    for given in step.given:
        name = given.symbol or given.name
        text = f"{name} = {step.shown[given.name]}: {given.meaning}"
        page.text(f"{text} ({given.source})" if given.source else text, indent=8)
    page.text(f"{method.result} = {step.substituted}", indent=4)
    doubt = "" if step.status == STATUS_NAMES[OK] else f" ({step.status})"
    page.text(f"{method.result} = {step.outcome}{doubt}", indent=4)
    page.text(method.source, indent=4, label="Source:")
    page.text(method.validity, indent=4, label="Holds:")


def _step(result: Quantity, call: Call, index: int, numbers: Mapping[int, int]) -> WorkingStep:
    method = call.method
    sheets = {i.name: i for i in method.inputs}
    given, values = [], {}
    for name, argument in call.arguments.items():
        sheet = sheets.get(name)
        parts = _listed(argument)
        picked = tuple(_at(q.value, index) for q in parts)
        values[name] = picked[0] if isinstance(argument, Quantity) else picked
        given.append(
            Given(
                name,
                sheet.symbol if sheet else "",
                sheet.meaning if sheet else name,
                sheet.unit if sheet else "",
                _source(parts, index, numbers),
            )
        )
    value = _at(result.value, index)
    printed, printed_result = _printed(method, values, value)
    return WorkingStep(
        number=len(numbers),
        method=method,
        formula=method.formula,
        given=tuple(given),
        values=values,
        printed=printed,
        result=value,
        printed_result=printed_result,
        status=STATUS_NAMES[int(_at(result.status, index))],
    )


def _source(parts: tuple[Quantity, ...], index: int, numbers: Mapping[int, int]) -> str:
    """Where an input comes from: an earlier step, or the source of a figure that was given."""
    found: list[str] = []
    for part in parts:
        if part.origin is not None:
            text = f"from ({numbers[id(part.origin)]})"
        else:
            text = ", ".join(t for t in (part.name if len(parts) > 1 else "", part.source) if t)
            status = int(_at(part.status, index))
            if status not in (OK, MISSING):
                text = f"{text}, {STATUS_NAMES[status]}".lstrip(", ")
        if text:
            found.append(text)
    return "; ".join(dict.fromkeys(found))


def _printed(
    method: Method, values: Mapping[str, Value], result: float
) -> tuple[dict[str, str], str]:
    """Inputs and result as text, with more digits where the formula loses them."""
    printed: dict[str, str] = {}
    for digits in _DIGITS:
        printed = {name: _text(value, digits) for name, value in values.items()}
        rounded = {name: _rounded(value, digits) for name, value in values.items()}
        if not math.isfinite(result) or _gives_back(method, rounded, result):
            break
    return printed, _text(result, _DIGITS[0])


def _gives_back(method: Method, values: Mapping[str, Value], result: float) -> bool:
    arrays = {
        name: [np.array([v]) for v in value] if isinstance(value, tuple) else np.array([value])
        for name, value in values.items()
    }
    with np.errstate(all="ignore"):
        again = float(np.asarray(method.function(**arrays), dtype=np.float64).reshape(-1)[0])
    return abs(again - result) <= _AGREES * abs(result)


def _text(value: Value, digits: int) -> str:
    if isinstance(value, tuple):
        return "[" + ", ".join(_text(v, digits) for v in value) + "]"
    if not math.isfinite(value):
        return str(float(value))
    return re.sub(r"e([+-])0*(\d)", lambda m: "e" + m[1].strip("+") + m[2], f"{value:.{digits}g}")


def _rounded(value: Value, digits: int) -> Value:
    if isinstance(value, tuple):
        return tuple(float(f"{v:.{digits}g}") for v in value)
    return float(f"{value:.{digits}g}")


def _with_unit(text: str, unit: str) -> str:
    if _NAN.fullmatch(text):
        return "not known"
    return _NAN.sub("not known", text if unit in ("", "1") else f"{text} {unit}")


def _substituted(formula: str, replacements: Mapping[str, str]) -> str:
    """Names replaced, all at once; a negative number in brackets."""

    def replace(match: re.Match[str]) -> str:
        new = replacements.get(match[0], match[0])
        return f"({new})" if new.startswith("-") else new

    return _NAME.sub(replace, formula)


def _by_hand(expression: str) -> str:
    return expression.replace("**", "^")


def _listed(argument: Quantity | tuple[Quantity, ...]) -> tuple[Quantity, ...]:
    return (argument,) if isinstance(argument, Quantity) else argument


def _at(array: np.ndarray[tuple[int, ...], np.dtype[np.floating | np.uint8]], index: int) -> float:
    flat = np.asarray(array).reshape(-1)
    return float(flat[index if flat.size > 1 else 0])
