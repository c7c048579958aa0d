"""The command line with an engine that answers what a test tells it to."""

from __future__ import annotations

import sys
import types
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import review.scenario
from review.cli import group
from review.interface.measure import Input, Measure, Method, Quantity, recording
from review.interface.plugin import Check, Kind
from review.interface.result import Basis, Failure, Finding, LayerInfo, Review, Run, Trials
from review.judge.causes import causes

sys.path.insert(0, str(Path(__file__).parent))  # for what several test modules share

KIND = Kind(
    "demo.share", "Share of the limit", "higher", "", "", "a ratio", "Invented Book", "everywhere"
)
CHECK = Check("demo", "Demonstration", "1.0", ("one ratio",), ("all else",), ("Invented Book",))
RATIO = Method(
    "demo.ratio",
    "A ratio",
    "share",
    "",
    "value / limit",
    (Input("value", "v", "", "the value"), Input("limit", "l", "", "the limit")),
    lambda value, limit: value / limit,
    "Invented Book",
    "everywhere",
)


def make_review(verdict: Any) -> Review:
    finding = Finding(
        criterion="demo.limit",
        title="The share stays low",
        kind=KIND.id,
        at="tube",
        of="",
        grade="unacceptable",
        status="ok",
        case="plan",
        trial="plan",
        step="stated settings",
        value=1.5,
        unit="",
        display="",
        limit=1.0,
        action="Lower the share.",
        basis=Basis("Invented Code", "1", "read"),
        layer="built-in",
    )
    return Review(
        version="0.1.0",
        title="A demonstration",
        path="demo.yaml",
        scenario_sha256="ab" * 32,
        layers=(LayerInfo("built-in", "cd" * 32),),
        checks=(CHECK,),
        verdict=verdict,
        findings=(finding,),
        measures=(
            Measure(
                KIND.id,
                "tube",
                "",
                "",
                np.full((2, 1), 1.5),
                np.zeros((2, 1), dtype=np.uint8),
                RATIO.id,
            ),
        ),
        kinds={KIND.id: KIND},
        owners={KIND.id: KIND.id.split(".")[0]},
        trials=Trials(("heat",), (Run("plan", "the plan", "plan"),)),
        facts={},
        not_covered=(("demo", "all else"),),
        not_applicable=(),
        causes=causes((finding,), {}, {KIND.id: KIND}),
    )


@dataclass
class Explanation:
    measure_kind: Kind
    at: str
    of: str
    trial: str
    step: str
    quantity: Quantity
    index: int


@dataclass
class Script:
    """What the engine will do, and what it was asked."""

    verdict: str = "may proceed"
    fails: BaseException | None = None
    asked: dict[str, Any] = field(default_factory=dict)
    criteria: tuple[Any, ...] = ()


@pytest.fixture
def script(monkeypatch: pytest.MonkeyPatch) -> Script:
    told = Script()

    class Engine:
        checks = (CHECK,)
        kinds = {KIND.id: KIND}
        differences = ("demo.ratio is changed by the site: bands",)
        failures = [Failure("statics", "did not load: a comma is missing")]

        def __init__(
            self, plugin_files: Sequence[Path] = (), rules_files: Sequence[Path] = ()
        ) -> None:
            told.asked |= {"plugins": tuple(plugin_files), "rules": tuple(rules_files)}
            self.ruleset = types.SimpleNamespace(
                criteria=told.criteria, layers=(), contacts=(), reviewers=()
            )

        def load(self, path: object) -> object:
            return path

        def vocabulary(self) -> dict[str, tuple[Any, ...]]:
            return {}

        def review(self, scenario: object) -> Review:
            if told.fails:
                raise told.fails
            return make_review(told.verdict)

        def workings(self, *given: object) -> dict[int, Any]:
            return {}

        def played(self, scenario: object) -> None:
            return None

        def explain(self, scenario: object, kind: str, **place: Any) -> Explanation:
            told.asked |= {"kind": kind} | place
            if told.fails:
                raise told.fails
            with recording():
                quantity = RATIO(value=Quantity.of(1.5), limit=Quantity.of(1.0))
            return Explanation(KIND, "tube", "", "plan", "heat", quantity, 0)

    module = types.ModuleType("review.engine.reviewing")
    vars(module)["Engine"] = Engine
    monkeypatch.setitem(sys.modules, "review.engine.reviewing", module)
    monkeypatch.setattr("review.explore.accuracy.weighed", lambda engine, file, review: review)
    monkeypatch.setattr("review.render.pictures.pictures", lambda review, setup: ())
    monkeypatch.setattr(review.scenario, "load", lambda path: path, raising=False)
    monkeypatch.setattr(review.scenario, "json_schema", lambda lists: {"type": "object"})
    return told


@pytest.fixture(autouse=True)
def _in_a_folder_of_its_own(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A refusal to sign writes a file of answers where it is called; nothing is set already."""
    monkeypatch.chdir(tmp_path_factory.mktemp("called"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.mktemp("settings")))
    monkeypatch.delenv("BENCHGATE_RULES", raising=False)


@pytest.fixture
def scenario(tmp_path: Path) -> Path:
    path = tmp_path / "demo.yaml"
    path.write_text("title: A demonstration\n")
    return path


@pytest.fixture
def run(script: Script) -> Callable[..., Result]:
    def invoke(*args: object, **env: str) -> Result:
        return CliRunner().invoke(group, [str(a) for a in args], env=env)

    return invoke
