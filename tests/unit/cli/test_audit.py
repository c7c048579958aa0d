"""``benchgate audit`` as a user meets it: exit status, messages, progress, ways to end."""

from __future__ import annotations

import io
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from filelock import FileLock

from review.audit import progress
from review.cli import group

SCENARIOS = Path(__file__).parents[3] / "scenarios"
PASSES, REFUSED = "bare_frame.yaml", "diethyl_ether_on_a_hot_plate.yaml"


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lab").mkdir()
    return tmp_path / "lab"


def fill(lab: Path, *names: str) -> None:
    for name in names:
        shutil.copyfile(SCENARIOS / name, lab / name)


def audit(*args: object) -> Result:
    """In this process, by one job."""
    words = ["audit", *map(str, args), "--jobs", "1"]
    return CliRunner().invoke(group, words, prog_name="benchgate")


# Exit status


def test_what_may_proceed_is_status_0(lab: Path) -> None:
    fill(lab, PASSES)
    (lab / "rules.yaml").write_text("name: ours\ncriteria: []\n")
    (lab / "notes.txt").write_text("a note")
    result = audit("lab")
    assert (result.exit_code, result.stderr) == (0, "")
    assert "may proceed with conditions" in result.stdout


def test_one_that_must_not_proceed_is_status_1(lab: Path) -> None:
    fill(lab, PASSES, REFUSED)
    assert audit("lab").exit_code == 1
    assert audit("lab").exit_code == 1  # nothing changed, and still it is refused


def test_one_that_cannot_be_read_is_status_1(lab: Path) -> None:
    fill(lab, PASSES)
    (lab / "lost.yaml").symlink_to("nowhere")
    result = audit("lab")
    assert result.exit_code == 1
    assert "lost.yaml" in result.stdout and "leads nowhere" in result.stdout


@pytest.mark.parametrize("names", [(), ("notes.txt",), ("rules.yaml",)])
def test_nothing_to_review_is_wrong_input(lab: Path, names: tuple[str, ...]) -> None:
    for name in names:
        (lab / name).write_text("name: ours\ncriteria: []\n")
    result = audit("lab")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == "benchgate: there is no scenario and no record in lab\n"


def test_a_file_may_be_named_itself(lab: Path) -> None:
    fill(lab, PASSES, REFUSED)
    assert audit(f"lab/{PASSES}").exit_code == 0


def test_a_folder_that_does_not_exist_is_wrong_input(lab: Path) -> None:
    result = audit("lab", "laboratory")
    assert result.exit_code == 2
    assert "'laboratory' does not exist" in result.stderr
    assert not Path("audit.sqlite").exists()


def test_wrong_rules_are_said_before_anything_is_reviewed(lab: Path) -> None:
    fill(lab, PASSES)
    Path("site.yaml").write_text("criteria: 3\n")
    result = audit("lab", "--rules", "site.yaml")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "site.yaml:1" in result.stderr
    assert not Path("audit.sqlite").exists()


# The store


def test_a_file_that_is_no_store_is_left_alone(lab: Path) -> None:
    fill(lab, PASSES)
    Path("mine.txt").write_text("my notes")
    result = audit("lab", "--store", "mine.txt")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        "benchgate: mine.txt is no store of an audit; choose another name, it stays as it is\n"
    )
    assert Path("mine.txt").read_text() == "my notes"


def test_an_audit_that_is_writing_is_not_disturbed(lab: Path) -> None:
    fill(lab, PASSES)
    with FileLock("audit.sqlite.lock"):
        result = audit("lab")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("benchgate: another audit is writing to audit.sqlite")


def test_a_full_disk_is_told_in_words_and_the_next_call_goes_on(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's own limit on its file stands for the disk; the error is the same."""
    fill(lab, PASSES, REFUSED, "nitrogen_dried.yaml", "water_distilled.yaml")
    assert audit(f"lab/{PASSES}").exit_code == 0
    real = sqlite3.connect

    def small(*args: object, **more: object) -> sqlite3.Connection:
        connection = real(*args, **more)
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages + 30}")
        return connection

    with monkeypatch.context() as full:
        full.setattr(sqlite3, "connect", small)
        result = audit("lab")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "database or disk is full" in result.stderr and "Traceback" not in result.stderr
    assert 1 <= len(_rows(Path("audit.sqlite"))) < 4
    assert audit("lab").exit_code == 1
    assert len(_rows(Path("audit.sqlite"))) == 4


def _rows(store: Path, what: str = "path, verdict, reviewed_at, seconds") -> list[tuple[str, ...]]:
    connection = sqlite3.connect(f"file:{store}?mode=ro", uri=True)
    try:
        return connection.execute(f"SELECT {what} FROM setup ORDER BY path").fetchall()
    finally:
        connection.close()


# Progress


def test_progress_goes_to_standard_error_in_plain_lines(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(lab, PASSES, REFUSED)
    monkeypatch.setattr(progress, "SECONDS_BETWEEN_LINES", 0.0)
    result = audit("lab")
    assert result.stderr.splitlines()[-1] == "2 of 2 files, 1 refused or unreadable"
    assert "\x1b" not in result.output
    assert audit("lab", "--quiet").stderr == ""


def test_a_pipe_gets_a_line_every_ten_seconds_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter(float(n) for n in range(1000))
    monkeypatch.setattr(time, "monotonic", lambda: next(clock))
    said = io.StringIO()
    with progress.Progress(stream=said) as shown:
        shown.begin(60)
        for _ in range(60):
            shown.step(refused=False)
    lines = said.getvalue().splitlines()
    assert 5 < len(lines) < 25
    assert all("of 60 files" in line for line in lines)
    assert " left, 0 refused or unreadable" in lines[0]


def test_the_time_left_is_of_files_like_those_done_of_late(monkeypatch: pytest.MonkeyPatch) -> None:
    """A thousand files that had not changed say nothing of the ten that must be reviewed."""
    now = [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    shown = progress.Progress(stream=io.StringIO())
    shown.begin(1100)
    for _ in range(1000):
        now[0] += 0.001
        shown.step(refused=False)
    for _ in range(50):
        now[0] += 1.0
        shown.step(refused=True)
    assert shown.summary() == "1 a second, 51 s left, 50 refused or unreadable"


def test_a_terminal_sees_a_bar(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    said = Terminal()
    with progress.Progress(stream=said) as shown:
        shown.begin(20000)
        for _ in range(12345):
            shown.step(refused=True)
    assert "12345/20000" in said.getvalue()
    assert "12345 refused or unreadable" in said.getvalue()


# Processes of their own

FILES = 9


@pytest.fixture(scope="module")
def demos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The quick demos, and beside them the store of an audit that nobody disturbed."""
    folder = tmp_path_factory.mktemp("demos")
    slow = ("ethanol*", "carbon*", "methan*", "copper*")
    shutil.copytree(SCENARIOS, folder / "lab", ignore=shutil.ignore_patterns("*.py", "__*", *slow))
    (folder / "lab" / "wrong.yaml").write_text("train: [")
    done = subprocess.run(_command("--jobs", "1"), cwd=folder, capture_output=True, check=False)
    assert done.returncode == 1, done.stderr
    return folder


@pytest.fixture
def place(demos: Path, tmp_path: Path) -> Path:
    shutil.copytree(demos / "lab", tmp_path / "lab")
    return tmp_path


def _command(*options: str) -> list[str]:
    code = "import sys; sys.argv[0] = 'benchgate'; from review.cli import main; main()"
    return [sys.executable, "-c", code, "audit", "lab", *options]


def started(place: Path, *options: str) -> subprocess.Popen[str]:
    """An audit in a session of its own, as if it had a terminal to itself.

    What runs the tests may ignore interruptions; a command that a person starts does not.
    """
    return subprocess.Popen(
        _command("--quiet", *options), cwd=place, start_new_session=True, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip


def until(holds: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come to that in time"
        time.sleep(0.02)


def stored(place: Path) -> int:
    try:
        return len(_rows(place / "audit.sqlite"))
    except sqlite3.OperationalError:  # there is none yet
        return 0


def nobody_left(process: subprocess.Popen[str]) -> bool:
    """Whether all processes of the audit's group have ended."""
    try:
        os.killpg(process.pid, 0)
    except ProcessLookupError:
        return True
    return False


def contents(store: Path) -> list[str]:
    """All that a store holds but the times and the order in which it was written."""
    connection = sqlite3.connect(store)
    connection.execute("UPDATE setup SET reviewed_at = '', seconds = 0")
    connection.execute("DELETE FROM checksum")  # of the times, too
    connection.execute("UPDATE history SET since = ''")
    try:
        return sorted(connection.iterdump())
    finally:
        connection.close()


@pytest.mark.parametrize(("jobs", "after"), [("1", 1), ("2", 4)])
def test_a_killed_audit_loses_only_what_was_in_flight(
    demos: Path, place: Path, jobs: str, after: int
) -> None:
    process = started(place, "--jobs", jobs)
    until(lambda: stored(place) >= after)
    time.sleep(random.Random(after).random() * 0.3)
    process.kill()
    process.communicate(timeout=60)
    until(lambda: nobody_left(process))
    before = _rows(place / "audit.sqlite")
    assert after <= len(before)

    second = subprocess.run(
        _command("--jobs", jobs, "--quiet"), cwd=place, capture_output=True, text=True, check=False
    )
    assert (second.returncode, second.stderr) == (1, "")
    after_all = _rows(place / "audit.sqlite")
    assert set(before) <= set(after_all)
    shutil.copyfile(demos / "audit.sqlite", place / "undisturbed.sqlite")
    assert contents(place / "audit.sqlite") == contents(place / "undisturbed.sqlite")


def test_an_interruption_ends_cleanly_and_the_next_call_goes_on(place: Path) -> None:
    """Ctrl-C reaches the audit and its workers alike."""
    process = started(place, "--jobs", "2")
    until(lambda: stored(place) >= 2)
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert (out, err) == (
        "",
        "benchgate: interrupted. What was done is in audit.sqlite, and the same command goes on "
        "from there\n",
    )
    until(lambda: nobody_left(process))
    before = _rows(place / "audit.sqlite")
    assert 2 <= len(before) < FILES
    second = subprocess.run(
        _command("--jobs", "2"), cwd=place, capture_output=True, text=True, check=False
    )
    assert second.returncode == 1
    assert set(before) < set(_rows(place / "audit.sqlite"))


def test_two_audits_at_once_and_a_reader(place: Path) -> None:
    """The first is held up in the middle, so that it is sure to be there when the second comes."""
    first = started(place, "--jobs", "1")
    until(lambda: stored(place) >= 1)
    first.send_signal(signal.SIGSTOP)
    second = subprocess.run(
        _command(), cwd=place, capture_output=True, text=True, timeout=60, check=False
    )
    assert second.returncode == 2
    assert second.stderr.startswith("benchgate: another audit is writing to audit.sqlite")
    first.send_signal(signal.SIGCONT)
    first.communicate(timeout=60)
    assert first.returncode == 1
    assert len(_rows(place / "audit.sqlite")) == FILES


@pytest.fixture(autouse=True)
def no_process_left() -> Iterator[None]:
    """A test that fails leaves nothing running."""
    made: list[subprocess.Popen[str]] = []
    real = subprocess.Popen.__init__

    def init(self: subprocess.Popen[str], *args: object, **more: object) -> None:
        made.append(self)
        real(self, *args, **more)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(subprocess.Popen, "__init__", init)
        yield
    for process in made:
        if process.poll() is None:
            process.kill()
            process.wait()
