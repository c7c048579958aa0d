"""A plugin that does not come to an end costs its own findings and nothing else."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from review import Engine, Overlay, PluginError, Review, Scenario, loads
from review.engine.limited import TookTooLong, within
from review.interface.measure import recording

LIMIT = 0.5
#: Longer than the limit and what is done to end the work, much shorter than the work.
SOON = 60.0

#: Where each hangs, and whether its own measures are lost with it.
HANGS = {
    "in_compute": ("def compute(setup):\n    while True: pass", True),
    "asleep": ("def compute(setup):\n    time.sleep(1e6)", True),
    "that_yields": ("def compute(setup):\n    yield from iter(lambda: time.sleep(0.01), 0)", True),
    "that_catches": (
        "def compute(setup):\n    while True:\n"
        "        try: time.sleep(0.01)\n        except Exception: pass",
        True,
    ),
    "in_upsets": ("@hookimpl\ndef upsets(scenario):\n    while True: pass", False),
    "in_sections": ("@hookimpl\ndef report_sections(review):\n    while True: pass", False),
    "on_import": ("while True: pass", True),
    "in_check": ("@hookimpl\ndef check():\n    while True: pass", True),
}


def built_in(review: Review) -> list[str]:
    return [
        repr(f)
        for f in review.findings
        if f.criterion != "check.failed" and not f.criterion.startswith("hangs_")
    ]


@pytest.fixture(scope="module")
def alone(bulb: Scenario) -> Review:
    return Engine().review(bulb)


@pytest.mark.parametrize("where", HANGS)
def test_the_others_go_on(
    where: str, plugin: Callable[..., Path], bulb: Scenario, alone: Review
) -> None:
    code, lost = HANGS[where]
    name, began = f"hangs_{where}", time.monotonic()
    review = Engine(plugin_files=[plugin(name, code)], plugin_seconds=LIMIT).review(bulb)
    assert time.monotonic() - began < SOON
    failed = [f for f in review.findings if f.criterion == "check.failed"]
    assert failed
    assert {(f.grade, f.blocks) for f in failed} == {("undetermined", True)}
    if where != "that_yields":  # None is no measure, and that is told first
        assert all(name in f.title and "not done after 0.5 s" in f.reason for f in failed)
    own = {f.grade for f in review.findings if f.criterion == f"{name}.number"}
    assert "acceptable" not in own if lost else own == {"acceptable"}
    assert built_in(review) == built_in(alone)


def test_a_computation_that_hangs_is_waited_for_once_in_a_review(
    plugin: Callable[..., Path], bulb: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("review.engine.measuring.CHUNK_RUNS", 1)  # the least chunk holds 64 runs
    file = plugin("slow", "def compute(setup):\n    time.sleep(1e6)")
    extra = [Overlay(f"s{n}", f"s{n}", "sample") for n in range(640)]
    engine = Engine(plugin_files=[file], plugin_seconds=2.0)
    began = time.monotonic()
    review = engine.review(bulb, extra=extra)
    assert [f.check for f in review.failures] == ["slow"]
    without = time.monotonic()
    Engine().review(bulb, extra=extra)
    assert (without - began) - (time.monotonic() - without) < 2 * 2.0 + 5.0


def test_the_limit_can_be_set_from_outside(
    plugin: Callable[..., Path], bulb: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHGATE_PLUGIN_SECONDS", "0.25")
    file = plugin("slow", "def compute(setup):\n    time.sleep(1e6)")
    (failure,) = Engine(plugin_files=[file]).review(bulb).failures
    assert "0.25 s" in failure.reason


@pytest.mark.parametrize("said", ["0", "-1", "soon", "nan", "inf"])
def test_a_limit_that_is_none_is_a_wrong_input(
    said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHGATE_PLUGIN_SECONDS", said)
    with pytest.raises(PluginError, match="BENCHGATE_PLUGIN_SECONDS"):
        Engine()


def test_built_in_checks_run_where_the_review_runs(
    bulb: Scenario, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No thread is started where no plugin of a site is loaded."""

    def none(self: threading.Thread) -> None:
        raise AssertionError("a thread was started")

    monkeypatch.setattr(threading.Thread, "start", none)
    assert Engine().review(bulb).findings


def test_what_the_work_raises_comes_out() -> None:
    def fails() -> None:
        raise OSError("odd")

    with pytest.raises(OSError, match="odd"):
        within(5.0, fails)
    with pytest.raises(SystemExit):
        within(5.0, lambda: exit_now())


def exit_now() -> None:
    raise SystemExit(0)


def test_work_that_holds_on_is_left_behind() -> None:
    """Even a loop that catches what it is asked to end with does not hold the caller."""
    end = threading.Event()

    def holds() -> None:
        while not end.is_set():
            try:
                time.sleep(0.01)
            except BaseException:
                continue

    with pytest.raises(TookTooLong):
        within(0.2, holds)
    end.set()


def test_the_working_is_recorded_there_too() -> None:
    from review.interface.measure import _recording

    seen: list[Any] = []
    with recording():
        within(5.0, lambda: seen.append(_recording.get()))
    assert seen == [True]


def test_an_item_kind_that_raises_leaves_all_undetermined(tmp_path: Path) -> None:
    plugin = tmp_path / "bulbs.py"
    plugin.write_text(
        "from review import Check, ItemKind, hookimpl\n"
        "class Bulb(ItemKind):\n"
        "    def volume(self, item):\n"
        "        raise RuntimeError('bulb burst')\n"
        "@hookimpl\n"
        "def check():\n"
        "    return Check('bulbs', 'Bulbs', '1', ('bulbs',), ('all else',), ('ours',))\n"
        "@hookimpl\n"
        "def item_kinds():\n"
        "    return [Bulb('bulb', 'Bulb')]\n"
    )
    text = "title: a bulb\ntrain:\n  - {id: a, kind: bulb, gas_volume: 1 L, joint: none}\n"
    review = Engine(plugin_files=[plugin]).review(loads(text))
    assert review.verdict == "cannot be judged"
    (failed,) = [f for f in review.findings if f.criterion == "check.failed"]
    assert "bulb" in failed.reason and "bulb burst" in failed.reason
    measured = [f for f in review.findings if f.kind]
    assert measured and {f.grade for f in measured} == {"undetermined"}
