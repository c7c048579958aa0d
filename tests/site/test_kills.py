"""Commands that write are killed at a drawn moment; what they leave is in order and goes on.

Each is a process of its own that gets kill -9. A few in the suite; KILLS=200 for more.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review.cli import group
from review.register.chain import Register
from review.register.entries import Standing, standing

SCENARIOS = Path(__file__).parents[2] / "scenarios"
KILLS = int(os.environ.get("KILLS", "5"))
START_NUMBER = 20261129
RECORD = Path("register/000001.json")
COMMANDS = {
    "sign": ("sign", "a.yaml", "--preparer", "teacher", "--reviewer", "second teacher"),
    "countersign": ("countersign", RECORD, "--take", "copy/000001.countersigned.json"),
    "ran": ("ran", RECORD, "--by", "teacher", "--noted", "all of it went as planned"),
    "withdraw": ("withdraw", RECORD, "--reason", "it was rebuilt since", "--by", "teacher"),
    "audit": ("audit", "lab", "--jobs", "1"),
}


def run(command: str) -> Result:
    return CliRunner().invoke(group, [str(arg) for arg in COMMANDS[command]])


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """By command the folder that it begins in."""
    start = tmp_path_factory.mktemp("start")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(start)
        patch.setenv("BENCHGATE_RULES", "")
        shutil.copy(SCENARIOS / "nitrogen_dried.yaml", "a.yaml")
        Path("lab").mkdir()
        for name in ("bare_frame", "water_warmed_in_a_bath", "nitrogen_dried"):
            shutil.copy(SCENARIOS / f"{name}.yaml", "lab")
        later = ["sign", "a.yaml", "--preparer", "teacher", "--reviewer", "later"]
        assert CliRunner().invoke(group, later).exit_code == 0
        Path("copy").mkdir()
        shutil.copy(RECORD, "copy")
        made = ["countersign", "copy/000001.json", "--reviewer", "second teacher"]
        assert CliRunner().invoke(group, [*made, "--compared", "bench and file"]).exit_code == 0
        signed = shutil.copytree(start, tmp_path_factory.mktemp("signed") / "bench")
        patch.chdir(signed)
        assert run("countersign").exit_code == 0
    return {name: signed if name == "ran" else start for name in COMMANDS}


def killed(command: str, after: float) -> bool:
    """Whether the kill came before the command was done."""
    child = os.fork()
    if child == 0:  # nothing of the test's own may run in the child
        try:
            run(command)
        finally:
            os._exit(0)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


def became() -> tuple[int, Standing]:
    """How many sign-offs are there, and what has become of the first."""
    register = Register(Path("register"))
    assert register.problems() == ()
    records = register.records()
    return len(records), standing(records[0], register.entries())


def verdicts() -> dict[str, str]:
    store = sqlite3.connect("audit.sqlite")
    try:
        return dict(store.execute("SELECT path, verdict FROM setup"))
    finally:
        store.close()


def test_whatever_is_killed_leaves_all_in_order(
    benches: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHGATE_RULES", "")
    drawn = random.Random(START_NUMBER)
    lasts: dict[str, float] = {}
    names = list(COMMANDS)
    met = 0
    for number in range(KILLS):
        command = names[number % len(names)]
        place = shutil.copytree(benches[command], tmp_path / f"{number}")
        monkeypatch.chdir(place)
        if command not in lasts:  # how long it takes, warm
            began = time.monotonic()
            assert run(command).exit_code == 0
            lasts[command] = time.monotonic() - began
            place = shutil.copytree(benches[command], tmp_path / f"{number} again")
            monkeypatch.chdir(place)
        met += killed(command, drawn.uniform(0.0, lasts[command]))
        if command == "audit":
            done = run(command)
            assert done.exit_code == 0, done.output
            assert len(verdicts()) == 3 and set(verdicts().values()) <= {
                "may proceed", "may proceed with conditions",
            }  # fmt: skip
            continue
        count, now = became()
        assert not now.problems
        there = {
            "sign": count == 2, "countersign": now.countersigned is not None,
            "ran": bool(now.runs), "withdraw": now.withdrawn is not None,
        }[command]  # fmt: skip
        again = run(command)
        # It can be signed off twice; a second countersignature, withdrawal or run is refused.
        assert again.exit_code == int(there and command != "sign"), (command, again.output)
        count, now = became()
        assert count == (2 + there if command == "sign" else 1)
        assert (now.countersigned is not None) == (command in ("countersign", "ran"))
        assert (now.withdrawn is not None) == (command == "withdraw")
        shutil.rmtree(place)
    assert met > KILLS // 4
