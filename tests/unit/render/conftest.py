"""A review built by hand, with one of everything a reader may meet. All data invented."""

from __future__ import annotations

import dataclasses
import io
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rich.console import Console

from review import Engine, Scenario, load
from review.interface.measure import MISSING, OK, Measure
from review.interface.plugin import Check, Kind, Section
from review.interface.result import (
    STATED_PLAN,
    Basis,
    Failure,
    Finding,
    LayerInfo,
    Loosened,
    NotApplicable,
    Outcome,
    Review,
    Run,
    Trials,
)
from review.render.runsheet import RunSheet, run_sheet
from review.render.terminal import render_terminal

DEMOS = Path(__file__).parents[3] / "scenarios"
NAN = float("nan")
BASIS = Basis("Invented Code 7", "clause 4.2", "read")

TRIALS = Trials(
    steps=("purge", "heat", "cool"),
    runs=(
        Run("plan", "the plan", "plan"),
        Run("argon lost@1", "argon is lost", "upset", 1),
        Run("outlet blocked@2", "the outlet is blocked", "upset", 2),
        Run("hood lost@2", "the hood stops", "upset", 2),
        Run("hydrogen full@2", "hydrogen runs at its most", "upset", 2),
        Run("sample 1", "sample 1", "sample"),
    ),
)


def kind(id: str, title: str, worse: Any = "higher", unit: str = "", display: str = "") -> Kind:
    return Kind(id, title, worse, unit, display, "a formula", "Invented Handbook", "everywhere")


KINDS = {
    k.id: k
    for k in (
        kind("ignition.oxygen_share", "Oxygen over the limiting oxygen"),
        kind(
            "bursting.working_pressure", "Pressure in it", "higher", "Pa", "bar absolute"
        ),
        kind("surfaces.wall", "Wall temperature", "higher", "K", "degC"),
        kind("surfaces.margin", "Distance to the softening point", "lower", "K", "K"),
        kind("breathing.minutes", "Minutes until it harms", "lower", "s", "min"),
        dataclasses.replace(
            kind("materials.rating", "Rating of the wetted material"),
            labels=("resistant", "limited", "attacked"),
        ),
    )
}


def finding(**changes: Any) -> Finding:
    given: dict[str, Any] = {
        "criterion": "ignition.oxygen",
        "title": "The gas stays too lean in oxygen to burn",
        "kind": "ignition.oxygen_share",
        "at": "tube",
        "of": "hydrogen",
        "grade": "unacceptable",
        "status": "ok",
        "case": "step",
        "trial": "plan",
        "step": "heat",
        "value": 1.42,
        "unit": "",
        "display": "",
        "limit": 0.6,
        "action": "Purge for longer before the heat goes on.",
        "basis": BASIS,
        "layer": "built-in",
    }
    return Finding(**(given | changes))


FINDINGS = (
    finding(
        criterion="surfaces.reach",
        title="Nobody touches a hot wall",
        kind="surfaces.wall",
        of="",
        grade="tolerable",
        value=363.15,
        unit="K",
        display="degC",
        limit=333.15,
        action="Put a guard around the tube.",
    ),
    finding(
        criterion="bursting.blocked",
        title="The train holds the pressure",
        kind="bursting.working_pressure",
        at="bottle",
        of="",
        case="upset",
        trial="outlet blocked@2",
        value=401325.0,
        unit="Pa",
        display="bar absolute",
        limit=151325.0,
        action="Fit a relief that opens below the rating.",
    ),
    finding(),
    finding(case="upset", trial="argon lost@1", step="purge", value=2.5),
    finding(at="bottle", value=0.9, status="estimated"),
    finding(
        criterion="breathing.room",
        title="Whoever stands beside can leave in time",
        kind="breathing.minutes",
        at="room",
        of="carbon monoxide",
        grade="undetermined",
        status="missing",
        case="upset",
        trial="hood lost@2",
        value=NAN,
        unit="s",
        display="min",
        limit=None,
        action="State the volume of the room.",
        reason="the room's volume is not given",
    ),
    finding(
        criterion="readiness.second",
        title="A second person is present",
        kind="",
        case="plan",
        trial="",
        step="",
        at="",
        of="",
        grade="undetermined",
        status="missing",
        value=NAN,
        limit=None,
        action="Name the second person.",
        reason="nobody is named",
        blocks=False,
    ),
    finding(
        criterion="materials.wetted",
        title="The material stands what flows through it",
        kind="materials.rating",
        at="feed hose",
        grade="acceptable",
        value=0.0,
        limit=1.0,
        action="Use another hose.",
    ),
    finding(
        criterion="surfaces.soften",
        kind="surfaces.margin",
        of="",
        grade="acceptable",
        value=280.0,
        unit="K",
        display="K",
        limit=100.0,
    ),
    finding(
        criterion="surfaces.soften",
        kind="surfaces.margin",
        at="stopper",
        of="",
        grade="acceptable",
        value=110.0,
        unit="K",
        display="K",
        limit=100.0,
    ),
)


def outcome(run: str, title: str, judged: Finding, **changes: Any) -> Outcome:
    """An outcome that rests on a finding."""
    given: dict[str, Any] = {
        "run": run,
        "title": title,
        "grade": judged.grade,
        "criterion": judged.criterion,
        "criterion_title": judged.title,
        "kind": judged.kind,
        "at": judged.at,
        "of": judged.of,
        "step": judged.step,
        "value": judged.value,
        "unit": judged.unit,
        "display": judged.display,
    }
    return Outcome(**(given | changes))


OUTCOMES = (
    outcome(
        "argon lost@1",
        "argon is lost",
        FINDINGS[3],
        seconds=40.0,
        credit="flow meter looked at before step heat: no credit, it is too slow",
    ),
    outcome("outlet blocked@2", "the outlet is blocked", FINDINGS[1]),
    outcome("hood lost@2", "the hood stops", FINDINGS[5]),
    outcome("hydrogen full@2", "hydrogen runs at its most", FINDINGS[7], grade="acceptable"),
)


def measures() -> tuple[Measure, ...]:
    shape = (4, 6)
    share = np.full(shape, 0.2)
    share[2, 0] = 1.42
    share[2, 2] = 1.1
    share[3, 4] = 0.7
    share[1, 1] = 2.5
    share[1, 2] = 50.0  # before this upset begins: no trial
    share[1, 5] = 90.0  # a sample: no part of the worst
    minutes = np.full(shape, 600.0)
    minutes[3, 3] = 30.0
    minutes[0, 0] = NAN
    status = np.where(np.isnan(minutes), MISSING, OK).astype(np.uint8)
    ok = np.zeros(shape, dtype=np.uint8)
    endless = np.full(shape, math.inf)
    nothing = np.full(shape, NAN)
    lost = np.full(shape, MISSING, dtype=np.uint8)
    return (
        Measure("ignition.oxygen_share", "tube", "hydrogen", "", share, ok, "lean.share"),
        Measure("breathing.minutes", "room", "carbon monoxide", "s", minutes, status, "room.t"),
        Measure("breathing.minutes", "room", "argon", "s", endless, ok, "room.t"),
        Measure("surfaces.wall", "tube", "", "K", nothing, lost, "wall.t"),
    )


def check(id: str, title: str) -> Check:
    return Check(id, title, "1.2", (f"what {id} covers",), (f"what {id} leaves out",), ("a book",))


@pytest.fixture
def review() -> Review:
    return Review(
        version="0.1.0",
        title="Copper oxide reduced with forming gas",
        path="reduction.yaml",
        scenario_sha256="ab" * 32,
        layers=(LayerInfo("built-in", "cd" * 32), LayerInfo("our site", "ef" * 32)),
        checks=(check("ignition", "Ignition of the gas"), check("surfaces", "Hot surfaces")),
        verdict="must not proceed",
        findings=FINDINGS,
        measures=measures(),
        kinds=KINDS,
        owners={kind: kind.split(".")[0] for kind in KINDS},
        trials=TRIALS,
        facts={},
        not_covered=(
            ("ignition", "what ignition leaves out"),
            ("surfaces", "what surfaces leaves out"),
        ),
        not_applicable=(
            NotApplicable("frame.tipping", "The frame stands", "no frame is described"),
        ),
        loosened=(Loosened("surfaces.reach", "our site", "60 degC to 65 degC", "guard fitted"),),
        failures=(Failure("statics", "division by zero in frame"),),
        sections=(Section("Gas on hand", ("argon lasts 75 h",)),),
        contacts=("Porter's lodge: 1234",),
        notes=("flash point of ethanol: two sources disagree, the lower one is used",),
        outcomes=OUTCOMES,
    )


@pytest.fixture
def shown() -> Callable[..., str]:
    """The review as a pipe of a given width receives it."""

    def show(review: Review, width: int = 80, quiet: bool = False, **console: Any) -> str:
        text = io.StringIO()
        render_terminal(review, Console(file=text, width=width, **console), quiet=quiet)
        return text.getvalue()

    return show


@pytest.fixture
def plan_step() -> str:
    return STATED_PLAN


@pytest.fixture
def make_finding() -> Callable[..., Finding]:
    return finding


@pytest.fixture(scope="session")
def engine() -> Engine:
    """The real engine, for what is rendered from real reviews."""
    return Engine()


@pytest.fixture(scope="session")
def demo_reviews(engine: Engine) -> dict[str, tuple[Review, Scenario]]:
    """Every shipped scenario with its review, by the name of its file."""
    loaded = {path.stem: load(path) for path in sorted(DEMOS.glob("*.yaml"))}
    return {name: (engine.review(scenario), scenario) for name, scenario in loaded.items()}


@pytest.fixture(scope="session")
def demo_sheets(demo_reviews: dict[str, tuple[Review, Scenario]]) -> dict[str, RunSheet]:
    """The run sheet of every shipped scenario that may proceed."""
    return {
        name: run_sheet(review, scenario, printed="2031-05-06")
        for name, (review, scenario) in demo_reviews.items()
        if review.verdict.startswith("may proceed")
    }
