"""``benchgate sign``: what it asks for, what it refuses, what it writes."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
import yaml
from signing import NAMES, SCENARIOS, filled, missing, run, sign

from review.cautions import CAUTIONS
from review.register import clock
from review.register.chain import Register

CONDITIONS = SCENARIOS / "copper_oxide_forming_gas.yaml"
PLAIN = SCENARIOS / "nitrogen_dried.yaml"
OPEN = SCENARIOS / "carbon_dioxide_methanated_over_nickel.yaml"
FORBIDDEN = SCENARIOS / "methanol_over_silver.yaml"
#: Reviewed at once; the first may proceed, the second has few conditions.
BATH = SCENARIOS / "water_warmed_in_a_bath.yaml"
SMALL = SCENARIOS / "bare_frame.yaml"


def flat(text: str) -> str:
    return " ".join(text.split())


def test_what_must_not_proceed_is_refused_whatever_is_offered(tmp_path: Path) -> None:
    result = run("sign", FORBIDDEN, "--register", tmp_path / "r", *NAMES)
    assert result.exit_code == 1
    assert "Verdict: must not proceed" in result.stdout
    assert "nobody can sign that" in flat(result.stderr)
    assert "Change what must change" in result.stderr
    assert "--accept" not in result.stderr
    assert not (tmp_path / "r").exists()


def test_a_refusal_names_everything_at_once_and_writes_nothing(tmp_path: Path) -> None:
    result = run(
        "sign", OPEN, "--register", tmp_path / "r", "--reviewer", "teacher", "--runs", "0",
        "--accept", "flammability.envelop@tube=seen", "--until", "2020-01-01",
    )  # fmt: skip
    assert result.exit_code == 1
    said = flat(result.stderr)
    assert said.startswith("benchgate: not signed.")
    assert "it would hold until 2020-01-01" in said.replace("It would", "it would")
    assert "number of runs" in said
    assert "flammability.envelop@tube" in said
    assert "did you mean 'flammability.envelope@tube'" in said
    assert "Not said yet: who is the preparer." in said
    assert "benchgate sign" in said and "--answers answers.yaml" in said
    told = yaml.safe_load(Path("answers.yaml").read_text("utf-8"))
    assert (told["preparer"], told["reviewer"]) == ("", "teacher")
    asked = {section: [id for each in told[section] for id in each["settles"]]
             for section in ("answer", "confirm")}  # fmt: skip
    assert "ignition.hot_surface@tube" in asked["answer"]
    assert "flammability.envelope@tube" in asked["confirm"]
    assert not (tmp_path / "r").exists()


def test_what_is_pasted_without_words_is_no_confirmation(tmp_path: Path) -> None:
    run("sign", SMALL, "--register", tmp_path / "r")
    pasted = missing(said="...")
    assert pasted
    result = run("sign", SMALL, "--register", tmp_path / "r", *NAMES, *pasted)
    assert result.exit_code == 1
    assert "is no text" in flat(result.stderr)
    assert not (tmp_path / "r").exists()


def test_answers_that_are_not_filled_in_are_refused_and_kept(tmp_path: Path) -> None:
    run("sign", CONDITIONS, "--register", tmp_path / "r", *NAMES)
    text = Path("answers.yaml").read_text("utf-8")
    half = text.replace('said: ""', 'said: "seen and done"', 1)
    Path("answers.yaml").write_text(half, "utf-8")
    refused = run("sign", CONDITIONS, "--register", tmp_path / "r", "--answers", "answers.yaml")
    assert refused.exit_code == 1
    assert "not filled in" in flat(refused.stderr)
    assert Path("answers.yaml").read_text("utf-8") == half
    assert not Path("answers-2.yaml").exists()
    Path("answers.yaml").write_text(filled(text), "utf-8")
    signed = run("sign", CONDITIONS, "--register", tmp_path / "r", "--answers", "answers.yaml")
    assert signed.exit_code == 0, signed.output


def test_answers_for_another_scenario_are_refused(tmp_path: Path) -> None:
    run("sign", SMALL, "--register", tmp_path / "r", *NAMES)
    other = run("sign", BATH, "--register", tmp_path / "r", "--answers", "answers.yaml")
    assert other.exit_code == 2
    assert "answers for another scenario" in flat(other.stderr)
    changed = tmp_path / SMALL.name
    changed.write_text(f"# as it is now\n{SMALL.read_text('utf-8')}", "utf-8")
    since = run("sign", changed, "--register", tmp_path / "r", "--answers", "answers.yaml")
    assert since.exit_code == 2
    assert "has changed since" in flat(since.stderr)
    assert not (tmp_path / "r").exists()


def test_the_letter_and_the_cautions_are_shown_first(tmp_path: Path) -> None:
    result = run("sign", CONDITIONS, "--register", tmp_path / "r")
    shown = flat(result.stdout)
    assert "Verdict: may proceed with conditions" in shown
    assert "Gas against the range in which it burns At tube:" in shown
    assert all(caution in shown for caution in CAUTIONS)
    quiet = run("check", CONDITIONS, "--full", "--quiet").stdout
    assert result.stdout.strip() == quiet.strip()


@pytest.mark.parametrize(
    ("file", "verdict", "conditions", "answers"),
    [
        (CONDITIONS, "may proceed with conditions", True, False),
        (PLAIN, "may proceed", False, False),
        (OPEN, "cannot be judged", True, True),
    ],
    ids=lambda value: value.stem if isinstance(value, Path) else "",
)
def test_what_is_told_missing_is_all_that_is_missing(
    tmp_path: Path, file: Path, verdict: str, conditions: bool, answers: bool
) -> None:
    result = sign(file, tmp_path / "r")
    assert result.exit_code == 0, result.output
    [record] = Register(tmp_path / "r").records()
    assert record.verdict == verdict
    assert bool(record.data["conditions"]) is conditions
    assert bool(record.data["answers"]) is answers
    assert all(each["confirmed"] == "seen and done" for each in record.data["conditions"])
    assert all(each["role"] == "teacher" for each in record.data["answers"])
    assert (record.preparer, record.reviewer) == ("teacher", "second teacher")
    assert record.scenario_text == file.read_text("utf-8")
    shown = flat(result.stdout)
    assert f"Record: {tmp_path / 'r' / '000001.json'}".replace(" ", "") in shown.replace(" ", "")
    assert record.sha256 in shown
    assert f"until {record.valid_until}, for 1 run" in shown
    assert "No key of the preparer or the reviewer signs it." in shown
    assert "replace the whole of it" in shown


def test_the_defaults_are_stated_in_help_and_on_the_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = datetime.fromisoformat("2031-05-06T07:08:09+00:00")
    monkeypatch.setattr(clock, "now", lambda: now)
    result = sign(BATH, tmp_path / "r")
    [record] = Register(tmp_path / "r").records()
    assert record.valid_until == date(2031, 6, 5)
    assert record.runs == 1
    assert record.data["defaults"] == {
        "valid_until": {"value": "30 days", "basis": "common practice, no source"},
        "runs": {"value": "1 run", "basis": "common practice, no source"},
    }
    assert "30 days and 1 run (common practice, no source)" in flat(result.stdout)
    explained = flat(run("sign", "--help").stdout)
    assert "30 days from now if not given (common practice, no source)" in explained
    assert "1 if not given (common practice, no source)" in explained


def test_what_is_said_outright_is_no_default(tmp_path: Path) -> None:
    until = date.today() + timedelta(days=3)
    result = run("sign", BATH, "--register", tmp_path, *NAMES, "--until", until, "--runs", 7)
    assert result.exit_code == 0, result.output
    [record] = Register(tmp_path).records()
    assert (record.valid_until, record.runs, record.data["defaults"]) == (until, 7, {})


def test_the_rules_and_plugins_given_are_on_the_record(tmp_path: Path) -> None:
    rules = tmp_path / "site.yaml"
    rules.write_text("name: our bench\ncontacts: [the door]\n", "utf-8")
    assert sign(BATH, tmp_path / "r", "--rules", rules).exit_code == 0
    [record] = Register(tmp_path / "r").records()
    assert "our bench" in [layer["name"] for layer in record.data["ruleset"]["layers"]]


def test_a_register_is_said_to_be_new_only_once(tmp_path: Path) -> None:
    first, second = (sign(BATH, tmp_path / "r").stdout for _ in range(2))
    assert "begun with this record" in flat(first)
    assert "begun with this record" not in flat(second)
    assert len(Register(tmp_path / "r").records()) == 2


def test_an_id_may_hold_the_sign_that_ends_it(tmp_path: Path) -> None:
    """The id of a condition that is known is found whole, and the rest is what was said."""
    run("sign", SMALL, "--register", tmp_path)
    [option, text] = missing()[:2]
    said = text.replace("seen and done", "torque = 8 N m")
    result = run("sign", SMALL, "--register", tmp_path, *NAMES, *missing()[2:], option, said)
    assert result.exit_code == 0, result.output
    [record] = Register(tmp_path).records()
    assert "torque = 8 N m" in [each["confirmed"] for each in record.data["conditions"]]


def test_two_keys_sign_what_the_record_names(tmp_path: Path) -> None:
    keys = []
    for name in ("one", "two"):
        file = tmp_path / name
        subprocess.run(
            ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", file], check=True, timeout=60
        )
        keys.append(file)
    result = sign(
        BATH, tmp_path / "r", "--preparer-key", keys[0], "--reviewer-key", keys[1]
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "No key" not in result.stdout
    [record] = Register(tmp_path / "r").records()
    assert set(record.keys) == {"preparer", "reviewer"}
    for key in record.keys.values():
        assert key in result.stdout
    assert Register(tmp_path / "r").problems() == ()


# A clock that is wrong, a register that is not in order


def test_a_clock_that_went_back_is_told_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert sign(BATH, tmp_path / "r").exit_code == 0
    past = clock.now() - timedelta(days=400)
    monkeypatch.setattr(clock, "now", lambda: past)
    result = sign(BATH, tmp_path / "r")
    assert result.exit_code == 2
    assert "the clock of this computer" in flat(result.stderr)
    assert len(Register(tmp_path / "r").records()) == 1


def test_a_register_that_is_not_in_order_takes_no_record(tmp_path: Path) -> None:
    assert sign(BATH, tmp_path / "r").exit_code == 0
    (tmp_path / "r" / "head.json").unlink()
    result = run("sign", BATH, "--register", tmp_path / "r", *NAMES)
    assert result.exit_code == 2
    assert "not in order" in result.stderr
    assert "head.json is missing" in flat(result.stderr)
    assert sorted(p.name for p in (tmp_path / "r").glob("*.json")) == ["000001.json"]


# On a terminal


@contextmanager
def terminal(*args: object) -> Iterator[Terminal]:
    """The command with a terminal of 80 columns before it, in a fork of this process."""
    child, master = pty.fork()
    if child == 0:  # nothing of the test's own may run in the child
        try:
            _on_the_terminal(*args)
        finally:
            os._exit(70)
    person = Terminal(master, child)
    try:
        yield person
    finally:
        person.ends()
        os.close(master)


def _on_the_terminal(*args: object) -> None:
    from review.cli import main

    signal.signal(signal.SIGINT, signal.default_int_handler)  # what runs the tests may ignore it
    os.environ.update(COLUMNS="80", TERM="dumb")
    sys.stdin = os.fdopen(0)
    sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w")
    sys.argv = ["benchgate", *map(str, args)]
    status: object = 0
    try:
        main()
    except SystemExit as left:
        status = left.code
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(status if isinstance(status, int) else 1)


class Terminal:
    def __init__(self, master: int, child: int) -> None:
        self.master = master
        self.child = child
        self.status: int | None = None
        self.seen = ""

    def ends(self) -> int:
        """Ends the command where it still runs; its exit status."""
        if self.status is None:
            os.kill(self.child, signal.SIGKILL)
            self.status = os.waitstatus_to_exitcode(os.waitpid(self.child, 0)[1])
        return self.status

    def reads(self, wanted: str) -> str:
        """What was printed until a question stands there."""
        start = len(self.seen)
        end = time.monotonic() + SECONDS
        while not re.search(wanted, self.seen[start:]):
            assert time.monotonic() < end, self.seen
            assert self._more(), self.seen
        return self.seen[start:]

    def types(self, line: str) -> None:
        os.write(self.master, f"{line}\n".encode())

    def presses(self, key: bytes, wanted: str) -> None:
        """Presses a key, and again where it came before somebody listened to the keyboard."""
        end = time.monotonic() + SECONDS
        while wanted not in self.seen:
            assert time.monotonic() < end, self.seen
            os.write(self.master, key)
            again = time.monotonic() + 2
            while wanted not in self.seen and time.monotonic() < again and self._more(0.2):
                pass

    def leaves(self) -> int:
        """Reads to the end."""
        end = time.monotonic() + SECONDS
        while self._more():
            assert time.monotonic() < end, self.seen
        self.status = os.waitstatus_to_exitcode(os.waitpid(self.child, 0)[1])
        return self.status

    def _more(self, seconds: float = 1.0) -> bool:
        """Whether there can be more to read, after reading what is there."""
        if not select.select([self.master], [], [], seconds)[0]:
            return True
        try:
            data = os.read(self.master, 65536)
        except OSError:  # the other side is closed
            return False
        self.seen += data.decode("utf-8", "replace").replace("\r", "")
        return bool(data)


SECONDS = 60.0
DONE = r"What was done or seen\? $"


def test_a_person_is_asked_for_everything_and_signs(tmp_path: Path) -> None:
    with terminal("sign", OPEN, "--register", tmp_path / "r") as person:
        shown = flat(person.reads(r"In which role do you answer for this\? $"))
        assert "Verdict: cannot be judged" in shown
        assert all(caution in shown for caution in CAUTIONS)
        assert "Not judged, 1 of 1" in shown
        assert "Hot surface where fuel and air can mix" in shown
        assert "Condition 1" not in shown
        person.types("")
        assert "A blank line is no answer" in person.reads(r"In which role.* $")
        person.types("teacher")
        person.reads(r"Why may the run go on.* $")
        person.types("because")
        assert "too short" in person.reads(r"Why may the run go on.* $")
        person.types("all that burns here ignites above 500 degC")
        places = []
        number, last = 0, 1
        while number < last:
            number += 1
            shown = person.reads(DONE)
            last = int(re.findall(rf"Condition {number} of (\d+)", shown)[0])
            places.append(flat(shown))
            person.types(f"done {number}")
        assert any("Also at: feed hose, inlet, outlet and outlet hose" in each for each in places)
        person.reads(r"Who prepared the set-up\? $")
        person.types("teacher")
        person.reads(r"Which second person .*\? $")
        person.types("TEACHER")
        assert "same person" in person.reads(r"Who prepared the set-up\? $")
        person.types("teacher")
        person.reads(r"Which second person .*\? $")
        person.types("second teacher")
        person.reads(r"Last day on which it holds \[.*\]\? $")
        person.types("tomorrow")
        assert "write it as 2031-05-06" in person.reads(r"Last day on which it holds \[.*\]\? $")
        person.types("")
        person.reads(r"For how many runs \[1\]\? $")
        person.types("2")
        person.reads(r"Write the record\? \[y/N\]: $")
        assert not (tmp_path / "r").exists()
        person.types("y")
        assert person.leaves() == 0, person.seen
    [record] = Register(tmp_path / "r").records()
    said = {each["confirmed"] for each in record.data["conditions"]}
    assert said == {f"done {number}" for number in range(1, last + 1)}
    envelope = [e for e in record.data["conditions"] if e["criterion"] == "flammability.envelope"]
    assert len(envelope) == 5
    assert len({each["confirmed"] for each in envelope}) == 1
    [answer] = record.data["answers"]
    assert answer["reason"] == "all that burns here ignites above 500 degC"
    assert record.runs == 2
    assert set(record.data["defaults"]) == {"valid_until"}


@pytest.mark.parametrize("how", ["no", "interrupt", "end of file", "not written"])
def test_whoever_stops_has_written_nothing(tmp_path: Path, how: str) -> None:
    with terminal("sign", SMALL, "--register", tmp_path / "r") as person:
        person.reads(DONE)
        if how == "not written":
            person.types("seen")
            while "Who prepared" not in person.reads(rf"{DONE}|Who prepared.*\? $"):
                person.types("seen")
            for answer, question in (
                ("teacher", r"second person .*\? $"),
                ("second teacher", r"Last day .*\? $"),
                ("", r"how many runs .*\? $"),
                ("", r"Write the record\? .* $"),
            ):
                person.types(answer)
                person.reads(question)
            person.types("")
        elif how == "no":
            person.types("No")
        else:
            person.presses(b"\x03" if how == "interrupt" else b"\x04", "nothing was written")
        status = person.leaves()
    assert status == (1 if how in ("no", "not written") else 130), person.seen
    assert "nothing was written" in person.seen
    assert "Traceback" not in person.seen
    assert not (tmp_path / "r").exists()


def test_nobody_is_asked_what_the_options_say(tmp_path: Path) -> None:
    with terminal("sign", BATH, "--register", tmp_path / "r", *NAMES) as person:
        assert person.leaves() == 0, person.seen
    assert "?" not in person.seen
    assert len(Register(tmp_path / "r").records()) == 1


@pytest.mark.parametrize("changed", ["register", "scenario"])
def test_what_was_typed_is_not_lost_where_it_cannot_be_written(
    tmp_path: Path, changed: str
) -> None:
    """But of a file that changed meanwhile nobody has seen anything, so it is asked anew."""
    (tmp_path / "r").mkdir()
    rules = tmp_path / "site.yaml"
    rules.write_text("name: our bench\ncontacts: [the door]\n", "utf-8")
    file = Path(shutil.copy(SMALL, tmp_path))
    with terminal("sign", file, "--register", tmp_path / "r", "--rules", rules) as person:
        while "Who prepared" not in person.reads(rf"{DONE}|Who prepared.*\? $"):
            person.types("looked at it")
        person.types("teacher")
        person.reads(r"second person .*\? $")
        person.types("second teacher")
        person.reads(r"Last day .*\? $")
        person.types("")
        person.reads(r"how many runs .*\? $")
        person.types("")
        person.reads(r"Write the record\? .* $")
        if changed == "register":
            (tmp_path / "r" / "head.json").write_text("no longer in order", "utf-8")
        else:
            file.write_text(f"# changed\n{file.read_text('utf-8')}", "utf-8")
        person.types("y")
        assert person.leaves() == 2, person.seen
    _, told, again = person.seen.replace("\r", "").partition("typing it all again:\n")
    assert bool(told) == (changed == "register")
    if told:
        command = shlex.split(again[: again.index("\nbenchgate:")].replace("\\\n", ""))
        assert command[:3] == ["benchgate", "sign", str(file)]
        assert command[command.index("--rules") + 1] == str(rules)
        assert command[command.index("--register") + 1] == str(tmp_path / "r")
        assert command[command.index("--preparer") + 1] == "teacher"
        assert any(part.endswith("=looked at it") for part in command)
        assert "\\" not in command[-1]
    else:
        assert "is not as it was reviewed" in flat(person.seen)
    assert not list((tmp_path / "r").glob("0*.json"))


def test_a_script_is_never_asked(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from review.cli import main; main()", "sign", SMALL,
         "--register", tmp_path / "r"],
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 1
    assert "?" not in done.stdout + done.stderr


def test_the_record_is_plain_json(tmp_path: Path) -> None:
    assert sign(SMALL, tmp_path / "r").exit_code == 0
    body = json.loads((tmp_path / "r" / "000001.json").read_text("utf-8"))
    assert body["benchgate_record"] == 1
    assert body["cautions"] == list(CAUTIONS)
