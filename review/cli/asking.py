"""Questions a person can answer, and the whole scenario that follows from the answers.

What nobody was asked is assumed; each assumption stands under `assumed:`, counts as estimated and
is told by the review as what is to be checked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import click

from review.cli.building import SOURCES, Answers, Feed, Part, written
from review.interface.items import ItemKind
from review.reference.finding import Reference, UnknownName
from review.scenario import InputError, loads
from review.scenario.errors import Misspelt
from review.scenario.units import parse
from review.scenario.words import folded
from review.walk.reactions import parse_equation

T = TypeVar("T")


def asked(reference: Reference, kinds: Mapping[str, ItemKind]) -> str:
    """Ask, and write down what was said; the text loads."""
    title = _until("What is the set-up called?", _title)
    gases = _until(
        "Which gases are fed, by name, commas between?", lambda text: gas_names(text, reference)
    )
    feeds = tuple(_feed(gas) for gas in gases)
    if _choice("Is the gas pushed through, or sucked by a pump?", ("pushed", "sucked")) == "sucked":
        raise click.ClickException(
            "a train that is sucked cannot be built by questions: start from 'benchgate new "
            "scenario' without --ask; nothing was written"
        )
    parts = _until(
        "What does it pass, in order, commas between? Such as: hose 6x8, reactor, wash bottle",
        lambda text: part_names(text, kinds),
    )
    parts = tuple(_with_liquid(part, reference) for part in parts)
    heated, heater, hottest = _heating(parts, reference)
    equation = (
        ""
        if hottest is None
        else _until(
            "Does anything react in it? none, or an equation such as CuO(s) + H2 -> Cu(s) + H2O",
            lambda text: _equation(text, reference),
        )
    )
    to = _choice("Where does the gas leave to?", ("hood", "room", "outdoors"))
    room = _until("How large is the room, such as 60 m3?", lambda text: _checked(text, "volume"))
    framed = click.confirm("Does a frame or stand hold it up?", default=False)
    operators = click.prompt("How many people run it?", type=click.IntRange(1, 20))
    answers = Answers(
        title, feeds, parts, to, heated, heater, hottest, equation, room, framed, operators
    )  # fmt: skip
    return written(answers, reference)


def _feed(gas: str) -> Feed:
    source = _choice(f"Where does the {gas} come from?", SOURCES)
    rate = _until(f"How much {gas}, such as 200 mL/min?", lambda text: _checked(text, "flow"))
    return Feed(gas, source, rate)


def _with_liquid(part: Part, reference: Reference) -> Part:
    if part.kind not in ("wash bottle", "vessel"):
        return part
    liquid = _until(
        f"Which liquid is in the {part.named}? (none if it is empty)",
        lambda text: _liquid(text, reference, needed=part.kind == "wash bottle"),
    )
    return Part(part.named, part.kind, liquid)


def _heating(parts: Sequence[Part], reference: Reference) -> tuple[int, str, float | None]:
    if not click.confirm("Is anything heated?", default=False):
        return 0, "", None
    number = 0
    if len(parts) > 1:
        listed = ", ".join(f"{n} {part.named}" for n, part in enumerate(parts, 1))
        number = click.prompt(f"Which? {listed}", type=click.IntRange(1, len(parts))) - 1
    heater = _until(
        "By what, such as tube furnace, hot plate, water bath, Bunsen burner?",
        lambda text: reference.words.find("heat", text).name,
    )
    hottest = _until("The hottest it can get, such as 320 degC?", lambda text: _temperature(text))
    return number, heater, hottest


def _equation(text: str, reference: Reference) -> str:
    said = text.strip()
    if folded(said) in ("none", "no", "nothing"):
        return ""
    terms = parse_equation(said, reference)
    if not any(t.substance and t.coefficient < 0 for t in terms):
        raise ValueError("no gas stands on the left of it")
    return said


def gas_names(text: str, reference: Reference) -> tuple[str, ...]:
    """The gases a text names, each once, under the names of the reference data.

    A mixture of gases is one, with its strength where it needs one. Raises ValueError for what is
    not known, with the nearest name, and for what is no gas.

    >>> gas_names("N2, hydrogen, Luft and forming gas 5 %", Reference())
    ('nitrogen', 'hydrogen', 'air', 'forming gas 5 %')
    """
    names = [part.strip() for part in re.split(r",|;|\band\b", text) if part.strip()]
    if not names:
        raise ValueError("name at least one gas")
    found = []
    for name in names:
        try:
            mixture, strength = reference.mixture(name)
            mixture.parts(strength)  # ValueError where the name alone does not say what is in it
            own, phase = mixture.name if strength is None else name, mixture.state
        except UnknownName:
            try:
                substance = reference.substance(name)
            except UnknownName as error:
                raise ValueError(str(error)) from error
            own, phase = substance.name, substance.phase_at_20C
        if phase != "gas":
            raise ValueError(f"{name} is no gas at 20 degC; name it as the liquid of a bottle")
        found.append(own)
    return tuple(dict.fromkeys(found))


def part_names(text: str, kinds: Mapping[str, ItemKind]) -> tuple[Part, ...]:
    """The items a text names in order; each by a kind of item or a trade size.

    Raises ValueError for what is neither, with the kinds there are.
    """
    found = []
    for name in (part.strip() for part in text.split(",") if part.strip()):
        plain = re.sub(r"^[\d.]+\s*m?l\s+|\s+[\d.]+\s*(?:mm)?\s*[x\u00d7].*$", "", folded(name))
        for word in (plain, plain.split()[-1]):
            kind = kinds.get(word)
            if kind is not None:
                break
        else:
            known = ", ".join(sorted({kind.id for kind in kinds.values()}))
            raise ValueError(f"{name!r} is no kind of item: {known}")
        if not kind.is_end:
            found.append(Part(name, kind.id))
    if not found:
        raise ValueError("name at least one thing that the gas passes")
    return tuple(found)


def _liquid(text: str, reference: Reference, *, needed: bool) -> str:
    name = text.strip()
    if folded(name) in ("none", "no", "empty"):
        if needed:
            raise ValueError("a wash bottle holds a liquid; an empty one is a trap")
        return ""
    try:
        mixture, strength = reference.mixture(name)
    except UnknownName:
        try:
            reference.substance(name)
        except UnknownName as error:
            raise ValueError(str(error)) from error
        return name
    mixture.parts(strength)
    if mixture.state != "liquid":
        raise ValueError(f"{mixture.name} is a {mixture.state}, no liquid")
    return name


def _title(text: str) -> str:
    title = text.strip()
    try:
        loads(f"title: {json.dumps(title, ensure_ascii=False)}\ntrain: [{{id: a, kind: outlet}}]")
    except InputError as error:
        raise ValueError(error.problems[0].message) from error
    return title


def _checked(text: str, dimension: Any) -> str:
    if dimension == "flow":
        from review.scenario.units import parse_stated

        parse_stated(text, "flow")
    else:
        parse(text, dimension)
    return text.strip()


def _temperature(text: str) -> float:
    return parse(text, "temperature")


def _choice(question: str, choices: Sequence[str]) -> str:
    answer: str = click.prompt(
        question, type=click.Choice(list(choices)), default=choices[0], show_default=True
    )
    return answer


def _until(question: str, read: Callable[[str], T]) -> T:
    """Ask until the answer can be used."""
    while True:
        try:
            return read(click.prompt(question, prompt_suffix=" "))
        except Misspelt as error:
            near = f"; did you mean {error.suggestion!r}?" if error.suggestion else ""
            click.echo(f"{error}{near}", err=True)
        except (ValueError, UnknownName) as error:
            click.echo(str(error), err=True)
