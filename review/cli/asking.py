"""Questions a person can answer, and the whole scenario that follows from the answers.

What nobody was asked is assumed; each assumption stands under `assumed:`, counts as estimated and
is told by the review as what is to be checked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, TypeVar

import click

from review.cli.building import SOURCES, Answers, Feed, Part, diluted, written
from review.interface.items import ItemKind
from review.reference.finding import Reference, UnknownName
from review.scenario import InputError, loads
from review.scenario.errors import Misspelt, nearest
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
    sucked = _choice("Is the gas pushed through, or sucked by a pump?", ("pushed", "sucked"))
    parts = _until(
        "What does it pass, in order, commas between? Such as: hose 6x8, reactor, wash bottle",
        lambda text: part_names(text, kinds),
    )
    if sucked == "sucked" and all(part.kind != "pump" for part in parts):
        pump = _until(
            "By which pump, such as water-jet pump or membrane pump?",
            lambda text: part_names(text, kinds),
        )
        parts = (*parts, Part(pump[0].named, "pump"))
    feeds = tuple(_entering(feed, number, parts) for number, feed in enumerate(feeds))
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
    catalyst = ""
    if hottest is not None and parts[heated].kind == "reactor":
        catalyst = _until(
            "Which catalyst lies in it? none, or what it is made of such as platinum",
            lambda text: _catalyst(text, reference),
        )
    to = _choice("Where does the gas leave to?", ("hood", "room", "outdoors"))
    room = _until("How large is the room, such as 60 m3?", lambda text: _checked(text, "volume"))
    framed = click.confirm("Does a frame or stand hold it up?", default=False)
    operators = click.prompt("How many people run it?", type=click.IntRange(1, 20))
    answers = Answers(
        title, feeds, parts, to, heated, heater, hottest, equation, room, framed, operators,
        catalyst,
    )  # fmt: skip
    return written(answers, reference)


def _feed(gas: str) -> Feed:
    source = _choice(f"Where does the {gas} come from?", SOURCES)
    rate = _until(f"How much {gas}, such as 200 mL/min?", lambda text: _checked(text, "flow"))
    return Feed(gas, source, rate)


def _entering(feed: Feed, number: int, parts: Sequence[Part]) -> Feed:
    """The feed with the part it enters; only asked from the second gas on."""
    if number == 0 or len(parts) == 1:
        return feed
    joins = [n for n, part in enumerate(parts) if part.kind == "junction"]
    listed = ", ".join(f"{n} {part.named}" for n, part in enumerate(parts, 1))
    usual = joins[min(number, len(joins)) - 1] + 1 if joins else 1
    asked = click.IntRange(1, len(parts))
    into = click.prompt(f"Where does the {feed.gas} enter? {listed}", type=asked, default=usual)
    return replace(feed, into=into - 1)


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


def _catalyst(text: str, reference: Reference) -> str:
    said = text.strip()
    if folded(said) in ("none", "no", "nothing"):
        return ""
    with suppress(UnknownName):
        return reference.material(said).name
    try:
        return reference.substance(said).name
    except UnknownName as error:
        raise ValueError(str(error)) from error


def gas_names(text: str, reference: Reference) -> tuple[str, ...]:
    """The gases a text names, each once, under the names of the reference data.

    A mixture of gases is one, with its strength where it needs one, or as `hydrogen 5 % in argon`.
    Raises ValueError for what is
    not known, with the nearest name, and for what is no gas.

    >>> gas_names("N2, hydrogen, Luft and forming gas 5 %", Reference())
    ('nitrogen', 'hydrogen', 'air', 'forming gas 5 %')
    >>> gas_names("1 % propane in N2", Reference())
    ('propane 1 % in nitrogen',)
    """
    names = [part.strip() for part in re.split(r",|;|\band\b", text) if part.strip()]
    if not names:
        raise ValueError("name at least one gas")
    found = []
    for name in names:
        if diluted(name):
            found.append(_diluted(name, reference, "gas"))
            continue
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


def _diluted(text: str, reference: Reference, phase: str) -> str:
    """A thing in another, under their names of the data; ValueError where nobody knows them."""
    (minor, share), (major, _) = diluted(text).items()
    try:
        one, other = reference.substance(minor), reference.substance(major)
    except UnknownName as error:
        raise ValueError(str(error)) from error
    for each in (one, other) if phase == "gas" else (other,):
        if each.phase_at_20C != phase:
            raise ValueError(f"{each.name} is no {phase} at 20 degC")
    parse(share, "fraction")
    return f"{one.name} {share} in {other.name}"


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
            raise Misspelt(f"{name!r} is no kind of item: {known}", nearest(plain, kinds))
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
    if diluted(name):
        return _diluted(name, reference, "liquid")
    try:
        mixture, strength = reference.mixture(name)
    except UnknownName:
        try:
            reference.substance(name)
        except UnknownName as error:
            more = "; of a solution write such as 'sodium hydroxide 4 % in water'"
            raise ValueError(f"{error}{more}") from error
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
