"""A record says everything that was signed, and one changed byte of it shows."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from review.engine.reviewing import Engine
from review.interface.result import Review
from review.judge.ruleset import Ruleset
from review.register.chain import Register
from review.register.record import (
    FORMAT,
    LARGEST,
    BrokenRecord,
    Record,
    RecordError,
    Signing,
    canonical,
    compose,
    looks_like_record,
    questions,
    read_record,
    sealed,
)
from review.scenario import Scenario, load
from tests.support import shared_engine

NOW = datetime(2031, 5, 6, 9, 8, 7, 654321, tzinfo=timezone(timedelta(hours=2)))
Body = Callable[..., dict[str, Any]]


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.fixture
def demo(tmp_path: Path, engine: Engine) -> tuple[Review, Scenario, Ruleset, Signing]:
    """A demo with conditions, copied with an accent and DOS line ends, and all of it confirmed."""
    text = (files("review.scenarios") / "copper_oxide_forming_gas.yaml").read_text("utf-8")
    path = tmp_path / "set-up.yaml"
    path.write_bytes(f"# Kupferoxid, zweite Prüfung\n{text}".replace("\n", "\r\n").encode())
    scenario = load(path)
    review = engine.review(scenario)
    confirmed = {q.id: f"seen: {q.title}" for q in questions(review)}
    signing = Signing("teacher", "Lehrerin für Chemie", date(2031, 8, 6), 5, confirmed)
    return review, scenario, engine.ruleset, signing


@pytest.fixture
def record(demo: Any) -> Record:
    review, scenario, ruleset, signing = demo
    return read_record(sealed(compose(review, scenario, ruleset, signing, NOW, {}), 1, ""), "r")


# What it says


def test_a_record_holds_everything_it_rests_on(demo: Any, record: Record) -> None:
    review, scenario, ruleset, signing = demo
    assert (record.number, record.previous, record.runs) == (1, "", 5)
    assert (record.preparer, record.reviewer) == ("teacher", "Lehrerin für Chemie")
    assert record.signed_at == datetime(2031, 5, 6, 7, 8, 7, tzinfo=UTC)
    assert record.data["signed_at"] == "2031-05-06T07:08:07Z"
    assert record.valid_until == date(2031, 8, 6)
    assert (record.title, record.verdict) == (review.title, "may proceed with conditions")
    content = Path(scenario.path).read_bytes()
    assert record.scenario_text.encode() == content and b"\r\n" in content
    assert record.scenario_sha256 == hashlib.sha256(content).hexdigest()
    assert record.data["scenario"]["file"] == "set-up.yaml"
    assert str(Path(scenario.path).parent) not in json.dumps(dict(record.data))
    assert len(record.data["review"]["findings"]) == len(review.findings)
    assert len(record.data["review"]["measures"]) == len(review.measures)
    assert [c["id"] for c in record.data["ruleset"]["criteria"]] == [c.id for c in ruleset.criteria]
    looked_up = {(d["kind"], d["name"], d["file"]) for d in record.data["data"]}
    assert ("substances", "hydrogen", "substances/hydrogen") in looked_up
    assert record.data["tool"]["libraries"]["numpy"]
    assert len(record.data["tool"]["code"]) == 64
    assert any("not a permit" in each for each in record.data["cautions"])
    told = {c["id"]: c["confirmed"] for c in record.data["conditions"]}
    assert told == dict(signing.accepted) and "flammability.envelope@tube" in told
    assert all(c["action"] and c["criterion"] for c in record.data["conditions"])
    assert record.data["answers"] == []


def test_an_answer_stands_in_the_record(tmp_path: Path, engine: Engine) -> None:
    """The demo that cannot be judged: one surface whose gas has no known ignition temperature."""
    name = "carbon_dioxide_methanated_over_nickel.yaml"
    path = tmp_path / name
    path.write_text((files("review.scenarios") / name).read_text("utf-8"), "utf-8")
    scenario = load(path)
    review = engine.review(scenario)
    asked = questions(review)
    id = "ignition.hot_surface@tube"
    assert [q.id for q in asked if q.open] == [id]
    reason = "The furnace is interlocked with the flow of nitrogen."
    signing = Signing(
        "teacher",
        "lab technician",
        date(2031, 8, 6),
        1,
        {q.id: "seen" for q in asked if not q.open},
        {id: ("lab technician", reason)},
    )
    body = compose(review, scenario, engine.ruleset, signing, NOW, {})
    (answer,) = body["answers"]
    assert (answer["id"], answer["criterion"], answer["at"], answer["of"]) == (
        id, "ignition.hot_surface", "tube", "",
    )  # fmt: skip
    assert (answer["role"], answer["reason"]) == ("lab technician", reason)
    assert len(body["conditions"]) == len(asked) - 1
    assert body["review"]["verdict"] == "cannot be judged"


def test_what_may_not_be_signed_is_not_composed(demo: Any) -> None:
    review, scenario, ruleset, signing = demo
    with pytest.raises(RecordError, match="may not be signed.*same person"):
        compose(review, scenario, ruleset, replace(signing, reviewer="Teacher"), NOW, {})
    with pytest.raises(RecordError, match="is a condition: confirm it"):
        compose(review, scenario, ruleset, replace(signing, accepted={}), NOW, {})


def test_a_file_that_changed_since_it_was_reviewed_is_not_signed(demo: Any) -> None:
    review, scenario, ruleset, signing = demo
    path = Path(scenario.path)
    path.write_bytes(path.read_bytes() + b"# later\n")
    with pytest.raises(RecordError, match="is not as it was reviewed; review it again"):
        compose(review, scenario, ruleset, signing, NOW, {})
    path.unlink()
    with pytest.raises(RecordError, match="cannot be read again"):
        compose(review, scenario, ruleset, signing, NOW, {})


def test_a_record_of_a_demo_goes_into_a_register(demo: Any, tmp_path: Path) -> None:
    review, scenario, ruleset, signing = demo
    register = Register(tmp_path / "register")
    for _ in range(2):
        register.add(compose(review, scenario, ruleset, signing, NOW, {}))
    assert register.problems() == ()
    assert [r.number for r in register.records()] == [1, 2]


# How it is sealed


def test_the_seal_can_be_checked_with_common_tools(body: Body, tmp_path: Path) -> None:
    """It is the SHA-256 of every other line of the file."""
    path = tmp_path / "000001.json"
    path.write_bytes(sealed(body(), 1, ""))
    grep = shutil.which("grep")
    assert grep
    rest = subprocess.run([grep, "-v", '^ "seal":', path], capture_output=True, check=True).stdout
    assert hashlib.sha256(rest).hexdigest() == json.loads(path.read_bytes())["seal"]


def test_a_record_is_plain_text_that_any_program_can_carry(body: Body) -> None:
    data = sealed(body("title: Prüfung °C\n"), 1, "")
    assert data.isascii() and data.endswith(b"}\n")
    assert read_record(data, "r").scenario_text == "title: Prüfung °C\n"


def test_any_changed_byte_of_a_demo_s_record_shows(demo: Any) -> None:
    """Every 997th byte of a third of a million; a small record is tried byte by byte elsewhere."""
    review, scenario, ruleset, signing = demo
    data = sealed(compose(review, scenario, ruleset, signing, NOW, {}), 1, "")
    for at in range(0, len(data), len(data) // 40):
        with pytest.raises(BrokenRecord):
            read_record(data[:at] + bytes([data[at] ^ 1 << at % 8]) + data[at + 1 :], "r")


def test_what_one_changed_byte_leaves_is_called_changed_and_no_stranger(body: Body) -> None:
    """Not even where the byte stands in what makes it a record, or in the number of its format."""
    data = sealed(body(), 1, "")
    for at in range(len(data)):
        for other in {data[at] ^ 1, data[at] ^ 0x80, ord("9")} - {data[at]}:
            with pytest.raises(BrokenRecord, match="^r has been changed"):
                read_record(data[:at] + bytes([other]) + data[at + 1 :], "r")


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(st.data())
@settings(max_examples=80, deadline=None)
def test_values_of_a_wrong_kind_are_refused_even_when_sealed(
    body: Body, data: st.DataObject
) -> None:
    """Whoever reads a record may rely on its kinds of values, whoever sealed it."""
    whole = body()
    at: Any = whole
    key = data.draw(st.sampled_from(sorted(whole)))
    while isinstance(at[key], dict) and at[key] and data.draw(st.booleans()):
        at, key = at[key], data.draw(st.sampled_from(sorted(at[key])))
    at[key] = data.draw(_JSON)
    try:
        read = read_record(sealed(whole, 1, ""), "r")
    except RecordError:
        return
    assert isinstance(read.runs, int) and isinstance(read.title, str)
    assert isinstance(read.signed_at, datetime) and isinstance(read.valid_until, date)
    assert read.verdict in ("may proceed", "may proceed with conditions", "must not proceed",
                            "cannot be judged")  # fmt: skip
    assert all(isinstance(each, str) for each in (*read.keys.values(), read.scenario_text))


@given(st.binary(max_size=200) | _JSON.map(lambda v: json.dumps(v).encode()))
@settings(max_examples=100, deadline=None)
def test_what_is_no_record_is_refused_in_words(data: bytes) -> None:
    assert not looks_like_record(data)
    with pytest.raises(RecordError, match="^x is no record of benchgate$") as caught:
        read_record(data, "x")
    assert not isinstance(caught.value, BrokenRecord)


def _with(text: str) -> bytes:
    return ('{"benchgate_record": 1, "seal": ' + text + "}").encode()


@pytest.mark.parametrize(
    "data",
    [
        _with("[" * 100_000 + "]" * 100_000),
        _with('{"a":' * 900 + "1" + "}" * 900),
        _with("9" * 5000),
        _with("1e999"),
        _with("NaN"),
        _with("-Infinity"),
        _with('"\\ud800"'),
        _with('1, "benchgate_record": 1'),
        _with('"\udcff"'.encode("utf-8", "surrogateescape").decode("latin-1")),
        b'\xff{"benchgate_record": 1}',
        b'\xef\xbb\xbf{"benchgate_record": 1}',
        '{"benchgate_record": 1}'.encode("utf-16"),
        b'{"benchgate_record": true}',
        b'{"benchgate_record": 0}',
        b'{"benchgate_record": null}',
        b'{"benchgate_record": "1"}',
        b'{"benchgate_record": 1.0}',
        b'{"benchgate_record": [2]}',
        b'["benchgate_record"]',
    ],
    ids=str,
)
def test_odd_json_breaks_nothing(data: bytes) -> None:
    with pytest.raises(RecordError):
        read_record(data, "x")


def test_a_key_given_twice_shows_even_when_sealed(body: Body) -> None:
    """The later one would win unseen."""
    lines = sealed(body(), 1, "").splitlines(keepends=True)
    (runs,) = [n for n, line in enumerate(lines) if line.startswith(b' "runs"')]
    (seal,) = [n for n, line in enumerate(lines) if line.startswith(b' "seal"')]
    lines.insert(runs, b' "runs": 9999,\n')
    rest = b"".join(line for n, line in enumerate(lines) if n != seal + 1)
    lines[seal + 1] = f' "seal": "{hashlib.sha256(rest).hexdigest()}",\n'.encode()
    with pytest.raises(BrokenRecord, match="not written as benchgate writes"):
        read_record(b"".join(lines), "r")


def test_what_is_too_large_is_not_read() -> None:
    with pytest.raises(RecordError, match="too large"):
        read_record(b" " * (LARGEST + 1), "x")


def test_a_record_of_a_newer_benchgate_says_so(body: Body) -> None:
    whole = {**body(), "number": 1, "previous": "", "benchgate_record": FORMAT + 1, "new": [1, 2]}
    whole["seal"] = hashlib.sha256(canonical(whole)).hexdigest()
    for data in (canonical(whole), json.dumps(whole).encode()):
        with pytest.raises(RecordError, match="newer benchgate .format 3.*update benchgate") as c:
            read_record(data, "r")
        assert not isinstance(c.value, BrokenRecord)


def test_another_scenario_in_a_sealed_record_shows(body: Body) -> None:
    whole = body()
    whole["scenario"]["text"] = "title: milder\n"
    with pytest.raises(BrokenRecord, match="hash of its scenario"):
        read_record(sealed(whole, 1, ""), "r")


def test_numbers_that_json_does_not_know_are_written_as_text(demo: Any) -> None:
    review, scenario, ruleset, signing = demo
    odd = replace(review, findings=tuple(replace(f, value=float("inf")) for f in review.findings))
    told = compose(odd, scenario, ruleset, signing, NOW, {})
    assert {f["value"] for f in told["review"]["findings"]} == {"inf"}
    read_record(sealed(told, 1, ""), "r")
