"""A record of an invented stand, signed and then changed as a test likes."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from review import Engine, load
from review.register.chain import Register
from review.register.questions import Signing, questions
from review.register.record import compose
from review.register.signatures import fingerprint
from review.register.verified import Point, Verified

NOW = datetime(2031, 5, 6, 12, 0, tzinfo=UTC)
#: Invented: a stand with a flask, held by a clamp that takes half of what it holds.
STAND = """\
title: A flask on a stand
train:
  - {id: flask, kind: vessel, material: borosilicate glass 3.3, gas_volume: 1 L, joint: none}
frame:
  feet:
    left: {x: 0 mm, y: 0 mm}
    right: {x: 300 mm, y: 0 mm}
    front: {x: 150 mm, y: 300 mm}
  masses:
    plate: {mass: 8 kg, x: 150 mm, y: 120 mm, height: 5 mm}
    flask: {mass: 0.5 kg, x: 150 mm, y: 120 mm, height: 200 mm}
  rods:
    upright: {diameter: 12 mm, height: 400 mm, material: stainless steel 316}
  clamps:
    clamp: {rod: upright, height: 200 mm, reach: 100 mm, carries: 0.5 kg, holding_torque: 1 N m}
  push_height: 200 mm
safeguards: [{kind: spectacles}]
"""
Change = Callable[[dict[str, Any]], object]


def sign(
    folder: Path,
    engine: Engine,
    change: Change = lambda body: None,
    text: str = STAND,
    name: str = "stand.yaml",
    now: datetime = NOW,
    keys: dict[str, Path] | None = None,
    days: int = 30,
) -> Path:
    """A record in `folder`/register of a scenario that is written beside it."""
    file = folder / name
    file.write_text(text, "utf-8")
    scenario = load(file)
    review = engine.review(scenario)
    asked = questions(review)
    signing = Signing(
        "teacher", "second teacher", now.date() + timedelta(days=days), 2,
        {q.id: "seen" for q in asked if not q.open},
        {q.id: ("teacher", "it is known from before") for q in asked if q.open},
    )  # fmt: skip
    made = {role: fingerprint(key) for role, key in (keys or {}).items()}
    body = copy.deepcopy(compose(review, scenario, engine.ruleset, signing, now, made))
    change(body)
    return Register(folder / "register").add(body, keys)


def point(found: Verified, subject: str) -> Point:
    [one] = [p for p in found.points if p.subject == subject]
    return one


def lines(found: Verified, subject: str) -> str:
    return "\n".join(point(found, subject).lines)


def both(keys: dict[str, Path]) -> dict[str, Path]:
    return {role: keys[role] for role in ("preparer", "reviewer")}
