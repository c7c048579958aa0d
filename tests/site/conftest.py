"""Plugins written on the spot, and one small scenario that they see. All figures are invented."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review import Scenario, load
from review.cli import group

HERE = Path(__file__).parent


#: What every plugin below begins with; NAME is its file's name.
HEAD = """
import time
from pathlib import Path
import numpy as np
from review import Check, Computation, Kind, Overlay, PluginError, Quantity, Section, hookimpl

KIND = Kind(id="NAME.number", title="Invented", worse="higher", unit="mol/s", display="mol/s",
            method="NAME.number", source="invented", validity="everywhere")

@hookimpl
def check():
    return Check(id="NAME", title="Site", version="1", covers=("x",), not_covered=("y",),
                 sources=("z",), scalar=SCALAR)

@hookimpl
def measures():
    return [Computation(kinds=(KIND,), compute=compute)]

@hookimpl
def criteria():
    return [Path(__file__).with_suffix(".yaml")]

def compute(setup):
    yield setup.measure(KIND, setup.places[0].flow, "bulb")
"""
RULES = """
name: NAME
criteria:
  - id: NAME.number
    title: Invented
    kind: NAME.number
    bands: {acceptable: 1.0e+9, tolerable: 2.0e+9}
    action: None.
    basis: {document: invented, clause: "", how: invented}
"""

Write = Callable[..., Path]


@pytest.fixture(scope="session")
def bulb() -> Scenario:
    return load(HERE / "bulb.yaml")


@pytest.fixture
def plugin(tmp_path: Path) -> Write:
    """Writes a plugin that measures one flow, with text put behind, and its criterion."""

    def write(name: str, more: str = "", *, scalar: bool = False) -> Path:
        file = tmp_path / f"{name}.py"
        text = HEAD.replace("SCALAR", str(scalar)) + textwrap.dedent(more)
        file.write_text(text.replace("NAME", name), "utf-8")
        file.with_suffix(".yaml").write_text(RULES.replace("NAME", name), "utf-8")
        return file

    return write


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Runs a verb in an empty folder."""
    monkeypatch.chdir(tmp_path)

    def invoke(*args: object, said: str | None = None) -> Result:
        return CliRunner().invoke(group, [str(a) for a in args], input=said)

    return invoke
