"""A few questions that lead from nothing to a scenario that loads."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import click

from review.reference.finding import Reference, UnknownName
from review.scenario import InputError, loads
from review.scenario.units import parse, show

T = TypeVar("T")

#: What the file asks to be replaced is what nobody was asked.
_HEAD = """\
# One set-up and how it is run. You were asked for a few things; every other figure here is only an
# example: replace each by your own. "benchgate schema" prints what else may stand here.
title: {title}
operators: 1                         # how many people run it

reagents:
"""
_REAGENT = """\
  {name}:
    state: gas
    composition: {{{name}: 100 %}}
    held: {{as: cylinder, volume: 10 L, pressure: {pressure}, regulator: 0.1 bar gauge}}
"""
_FLOW = """\
  {name} feed:
    reagent: {name}
    into: inlet
    rate: 200 mL/min
    reference: standard              # the volume at 20 degC and 1 atm
    at_most: 2 L/min                 # what it can deliver when its control fails
"""
_TRAIN = """
train:                               # in flow order; "from: [...]" only where gas branches or joins
  - {{id: inlet, kind: junction, gas_volume: 5 mL, rating: 5 bar gauge,
     joint: screw-thread connector}}
  - {{id: hose, kind: line, material: PTFE, inner_diameter: 4 mm, wall: 1 mm, length: 1 m,
     rating: 5 bar gauge, joint: screw-thread connector}}
  - {{id: tube, kind: reactor, material: fused quartz, inner_diameter: 20 mm, wall: 2 mm,
     length: 600 mm, {heated}home_made: no, ends: open,
     joint: screw-thread connector, joint_material: PTFE}}
  - {{id: outlet, kind: outlet, to: {to}}}
"""
_HEAT = """
heat:
  furnace:
    heats: tube
    kind: tube furnace
    set_temperature: {set}
    hottest: {hottest}               # the hottest it can get when its control fails
    cooling_time: 20 min             # until 63 % of the way down to the room
"""
_ROOM = """
ventilation:
  room_volume: 60 m3
  air_changes: 4 / hour
"""
_HOOD = """\
  hood: {opening_width: 1.2 m, opening_height: 0.4 m, face_velocity: 0.5 m/s, tested: unknown}
"""
_PROCEDURE = """
procedure:                           # everything is off at first; a setting lasts until changed
"""


@dataclass(frozen=True, slots=True)
class Answers:
    """What was asked. `hottest` in K, None where nothing is heated."""

    title: str
    gases: tuple[str, ...]
    hottest: float | None
    hood: bool


def asked() -> str:
    """Ask, and write down what was said; the text loads."""
    reference = Reference()
    title = _until("What is the set-up called?", _title)
    gases = _until(
        "Which gases are fed, by name, commas between?", lambda text: gas_names(text, reference)
    )
    hottest = None
    if click.confirm("Is anything heated?", default=False):
        hottest = _until("The hottest it can get, such as 320 degC?", _temperature)
    hood = click.confirm("Does the outlet lead into a hood?", default=False)
    return written(Answers(title, gases, hottest, hood), reference)


def written(answers: Answers, reference: Reference) -> str:
    """A scenario with these answers and examples for all else.

    >>> text = written(Answers("A try", ("argon", "hydrogen"), 600.0, True), Reference())
    >>> loads(text).title
    'A try'
    """
    inert = [g for g in answers.gases if reference.substance(g).inert]
    rest = [g for g in answers.gases if g not in inert]
    heated = answers.hottest is not None
    parts = [_HEAD.format(title=json.dumps(answers.title, ensure_ascii=False))]
    parts += [_REAGENT.format(name=gas, pressure="150 bar gauge") for gas in answers.gases]
    parts.append("\nflows:\n")
    parts += [_FLOW.format(name=gas) for gas in answers.gases]
    to = "hood" if answers.hood else "room"
    parts.append(_TRAIN.format(heated="heated_length: 250 mm, " if heated else "", to=to))
    if answers.hottest is not None:
        usual = max(answers.hottest - 20.0, (answers.hottest + 293.15) / 2)
        cooler = min(usual, answers.hottest)
        parts.append(_HEAT.format(set=_said(cooler), hottest=_said(answers.hottest)))
    parts += [_ROOM, _HOOD if answers.hood else "", _PROCEDURE]
    parts += _steps(inert, rest, heated)
    text = "".join(parts)
    loads(text)  # what is handed out loads; if not, it is a fault here
    return text


def _steps(inert: Sequence[str], rest: Sequence[str], heated: bool) -> list[str]:
    """Flush with what is inert, run, cool under what is inert."""
    first = inert or rest
    lines = [] if inert else ["  # No inert gas was named: with gas that burns, flush with one.\n"]
    lines.append(_step("purge", "10 min", on=first))
    lines.append(_step("run", "30 min", on=rest if inert else (), heat="on" if heated else ""))
    if heated:
        lines.append(_step("cool", "90 min", off=rest if inert else (), heat="off"))
    elif inert and rest:
        lines.append(_step("flush", "10 min", off=rest))
    return lines


def _step(
    name: str, duration: str, on: Sequence[str] = (), off: Sequence[str] = (), heat: str = ""
) -> str:
    flows = [f"{gas} feed: on" for gas in on] + [f"{gas} feed: off" for gas in off]
    parts = [f"step: {name}", f"duration: {duration}"]
    parts += [f"flows: {{{', '.join(flows)}}}"] if flows else []
    parts += [f"heat: {{furnace: {heat}}}"] if heat else []
    return f"  - {{{', '.join(parts)}}}\n"


def gas_names(text: str, reference: Reference) -> tuple[str, ...]:
    """The gases a text names, each once, under the names of the reference data.

    Raises ValueError for what is not known, with the nearest name, and for what is no gas.

    >>> gas_names("N2, hydrogen", Reference())
    ('nitrogen', 'hydrogen')
    """
    names = [part.strip() for part in re.split(r",|;|\band\b", text) if part.strip()]
    if not names:
        raise ValueError("name at least one gas")
    found = []
    for name in names:
        try:
            substance = reference.substance(name)
        except UnknownName as error:
            raise ValueError(str(error)) from error
        if substance.phase_at_20C != "gas":
            raise ValueError(f"{name} is no gas at 20 degC; add it to the file afterwards")
        found.append(substance.name)
    return tuple(dict.fromkeys(found))


def _title(text: str) -> str:
    title = text.strip()
    try:
        loads(f"title: {json.dumps(title, ensure_ascii=False)}\ntrain: [{{id: a, kind: outlet}}]")
    except InputError as error:
        raise ValueError(error.problems[0].message) from error
    return title


def _temperature(text: str) -> float:
    return parse(text, "temperature")


def _said(temperature: float) -> str:
    return show(round(temperature - 273.15) + 273.15, "degC")


def _until(question: str, read: Callable[[str], T]) -> T:
    """Ask until the answer can be used."""
    while True:
        try:
            return read(click.prompt(question, prompt_suffix=" "))
        except ValueError as error:
            click.echo(str(error), err=True)
