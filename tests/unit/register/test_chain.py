"""A register shows whatever was done to it, and counts every sign-off once."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from review.register.chain import Register
from review.register.record import BrokenRecord, RecordError, sealed

Body = Callable[..., dict[str, Any]]


def _filled(folder: Path, body: Body, count: int) -> Register:
    register = Register(folder)
    for number in range(1, count + 1):
        register.add(body(f"title: {number}\n"))
    return register


@pytest.fixture
def three(tmp_path: Path, body: Body) -> Register:
    """A register of three small records."""
    return _filled(tmp_path / "register", body, 3)


def _copy(register: Register, folder: Path) -> Register:
    shutil.copytree(register.folder, folder)
    return Register(folder)


def _said(register: Register) -> str:
    return "\n".join(register.problems())


# What a register holds


def test_every_record_names_the_one_before_it(three: Register) -> None:
    """By the plain SHA-256 of its file, which anybody can take without this program."""
    hashes = ["", *(hashlib.sha256(three.path(n).read_bytes()).hexdigest() for n in (1, 2, 3))]
    told = [json.loads(three.path(n).read_bytes()) for n in (1, 2, 3)]
    assert [each["number"] for each in told] == [1, 2, 3]
    assert [each["previous"] for each in told] == hashes[:3]
    assert json.loads((three.folder / "head.json").read_bytes()) == {
        "benchgate_register": 1,
        "count": 3,
        "sha256": hashes[3],
        "pending": None,
    }
    assert three.problems() == three.notes() == ()
    assert [r.scenario_text for r in three.records()] == [f"title: {n}\n" for n in (1, 2, 3)]


def test_a_folder_without_records_is_an_empty_register(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("nothing")
    (tmp_path / "settings.json").write_text("{}")
    (tmp_path / "folder.json").mkdir()
    assert Register(tmp_path).records() == Register(tmp_path).problems() == ()


def test_a_folder_is_made_where_there_is_none(tmp_path: Path, body: Body) -> None:
    path = Register(tmp_path / "of" / "the" / "bench").add(body())
    assert path == tmp_path / "of" / "the" / "bench" / "000001.json"


# What shows


def test_any_changed_byte_shows(tmp_path: Path, body: Body) -> None:
    """Every byte of every file of a small register, each of its bits in turn."""
    register = _filled(tmp_path, body, 2)
    for path in (register.path(1), register.path(2), tmp_path / "head.json"):
        whole = path.read_bytes()
        for at in range(len(whole)):
            path.write_bytes(whole[:at] + bytes([whole[at] ^ 1 << at % 8]) + whole[at + 1 :])
            assert path.name in _said(register), (path.name, at)
        path.write_bytes(whole)
    assert register.problems() == ()


def test_any_byte_cut_off_or_put_in_shows(three: Register) -> None:
    path = three.path(3)
    whole = path.read_bytes()
    for at in range(0, len(whole), 7):
        for changed in (whole[:at], whole[:at] + b" " + whole[at:], whole[:at] + whole[at + 1 :]):
            path.write_bytes(changed)
            assert "000003.json" in _said(three), at


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (1, "000001.json is missing"),
        (2, "000002.json is missing"),
        (3, "000003.json is missing (head.json counts 3)"),
    ],
)
def test_a_missing_record_shows(three: Register, number: int, message: str) -> None:
    three.path(number).unlink()
    assert three.problems() == (message,)
    with pytest.raises(BrokenRecord, match="is missing"):
        three.records()


def test_a_head_that_counts_otherwise_or_is_gone_shows(three: Register) -> None:
    head = json.loads((three.folder / "head.json").read_bytes())
    for count in (0, 2, 4, 10**17):
        text = json.dumps({**head, "count": count}, sort_keys=True, indent=1) + "\n"
        (three.folder / "head.json").write_text(text)
        assert three.problems(), count
    (three.folder / "head.json").unlink()
    assert "head.json is missing" in _said(three)
    with pytest.raises(BrokenRecord, match="head.json is missing"):
        three.records()
    with pytest.raises(BrokenRecord, match="nothing was signed"):
        three.add(json.loads(three.path(1).read_bytes()))


@pytest.mark.parametrize(
    "change",
    [
        {"count": 0},
        {"count": -1},
        {"count": "3"},
        {"count": 3.0},
        {"count": True},
        {"count": None},
        {"sha256": ""},
        {"sha256": 7},
        {"sha256": "A" * 64},
        {"pending": {"number": 5, "sha256": "a" * 64}},
        {"pending": {"number": 4, "sha256": "a"}},
        {"pending": {"number": 4}},
        {"pending": []},
        {"pending": False},
        {"benchgate_register": 0},
        {"benchgate_register": True},
        {"benchgate_register": "1"},
        {"more": 1},
    ],
    ids=str,
)
def test_a_head_that_none_has_written_shows(three: Register, change: dict[str, Any]) -> None:
    head = json.loads((three.folder / "head.json").read_bytes()) | change
    (three.folder / "head.json").write_text(json.dumps(head, sort_keys=True, indent=1) + "\n")
    assert three.problems() == ("head.json has been changed: it can no longer be read",)
    with pytest.raises(BrokenRecord, match="nothing was signed"):
        three.add(json.loads(three.path(1).read_bytes()))


def test_exchanged_records_show(three: Register) -> None:
    one, two = three.path(1).read_bytes(), three.path(2).read_bytes()
    three.path(1).write_bytes(two)
    three.path(2).write_bytes(one)
    assert three.problems()[:2] == (
        "000001.json holds record 2: it stands out of order",
        "000002.json holds record 1: it stands out of order",
    )


def test_a_record_written_anew_shows_at_the_next(three: Register, body: Body) -> None:
    """Well formed and sealed, but not what was signed."""
    first = three.path(1)
    first.write_bytes(sealed(body("title: milder\n"), 1, ""))
    assert three.problems() == (
        "000002.json does not follow 000001.json: one of them was exchanged, or a record was "
        "removed or inserted between them",
    )


def test_the_last_record_written_anew_shows_at_the_head(three: Register, body: Body) -> None:
    previous = json.loads(three.path(3).read_bytes())["previous"]
    three.path(3).write_bytes(sealed(body("title: milder\n"), 3, previous))
    assert three.problems() == (
        "000003.json is not the last record that head.json knows: one of the two was exchanged",
    )


def test_an_inserted_record_shows(three: Register, body: Body) -> None:
    last = json.loads((three.folder / "head.json").read_bytes())["sha256"]
    three.path(4).write_bytes(sealed(body("title: 4\n"), 4, last))
    assert "000004.json is one more than head.json counts (3)" in _said(three)
    with pytest.raises(BrokenRecord, match="nothing was signed"):
        three.add(body())
    assert three.path(4).exists()


def test_records_pushed_back_to_make_room_show(three: Register, body: Body) -> None:
    third, second = three.path(3).read_bytes(), three.path(2).read_bytes()
    three.path(4).write_bytes(third)
    three.path(3).write_bytes(second)
    first = json.loads(second)["previous"]
    three.path(2).write_bytes(sealed(body("title: between\n"), 2, first))
    assert "000003.json holds record 2" in _said(three)
    assert "000004.json is one more" in _said(three)


def test_the_first_record_cut_off_shows(three: Register) -> None:
    three.path(1).write_bytes(three.path(2).read_bytes().replace(b'"number": 2', b'"number": 1'))
    assert "000001.json has been changed" in _said(three)


def test_a_first_record_that_follows_another_shows(tmp_path: Path, body: Body) -> None:
    register = _filled(tmp_path, body, 1)
    register.path(1).write_bytes(sealed(body("title: 1\n"), 1, "a" * 64))
    assert "000001.json follows another record, which was removed" in _said(register)


def test_a_copy_of_a_record_under_another_name_shows(three: Register) -> None:
    for name in ("2.json", "0000002.json", "copy of 000002.json", "000002.json.old"):
        path = three.folder / name
        shutil.copy(three.path(2), path)
        assert three.problems() == (f"{name} looks like a record, but is none of this register",)
        path.unlink()
    (three.folder / "readme.txt").write_text("whose register this is")
    assert three.problems() == ()


def test_a_name_cannot_write_on_the_terminal(three: Register) -> None:
    shutil.copy(three.path(2), three.folder / "a\x1b[31m.json")
    assert three.problems() == ("a[31m.json looks like a record, but is none of this register",)


def test_a_record_dated_before_the_one_it_follows_shows(tmp_path: Path, body: Body) -> None:
    """A clock that was put back; `add` refuses it, another program may not."""
    register = _filled(tmp_path, body, 1)
    head = json.loads((tmp_path / "head.json").read_bytes())
    data = sealed(body(signed_at="2031-05-06T07:08:08Z"), 2, head["sha256"])
    register.path(2).write_bytes(data)
    head |= {"count": 2, "sha256": hashlib.sha256(data).hexdigest()}
    (tmp_path / "head.json").write_text(json.dumps(head, sort_keys=True, indent=1) + "\n")
    assert register.problems() == (
        "000002.json is dated 2031-05-06T07:08:08Z, before the record that it follows "
        "(2031-05-06T07:08:09Z)",
    )


@pytest.mark.parametrize("what", ["000002.json", "head.json"])
def test_what_is_no_file_shows_and_keeps_nobody_waiting(three: Register, what: str) -> None:
    path = three.folder / what
    path.unlink()
    os.mkfifo(path)
    assert f"{what} is no file" in _said(three)
    path.unlink()
    path.mkdir()
    assert f"{what} is no file" in _said(three) or f"{what} cannot be read" in _said(three)


# Larger registers, changed in any way


@pytest.fixture(scope="module")
def thirty(tmp_path_factory: pytest.TempPathFactory, body: Body) -> Register:
    return _filled(tmp_path_factory.mktemp("thirty") / "register", body, 30)


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_whatever_is_done_to_a_larger_register_shows(
    thirty: Register, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    register = _copy(thirty, tmp_path_factory.mktemp("changed") / "register")
    numbers = st.integers(1, 30)
    done = data.draw(st.sampled_from(["flip", "delete", "exchange", "insert", "cut", "repeat"]))
    one = register.path(data.draw(numbers))
    whole = one.read_bytes()
    if done == "flip":
        at = data.draw(st.integers(0, len(whole) - 1))
        bit = data.draw(st.integers(0, 7))
        one.write_bytes(whole[:at] + bytes([whole[at] ^ 1 << bit]) + whole[at + 1 :])
    elif done == "delete":
        for number in data.draw(st.sets(numbers, min_size=1)):
            register.path(number).unlink()
    elif done == "exchange":
        order = data.draw(st.permutations(range(1, 31)).filter(lambda o: o != sorted(o)))
        contents = [register.path(n).read_bytes() for n in order]
        for number, content in enumerate(contents, 1):
            register.path(number).write_bytes(content)
    elif done == "insert":
        register.path(31).write_bytes(whole)
    elif done == "cut":
        for number in range(data.draw(st.integers(2, 30)), 31):
            register.path(number).unlink()
    else:
        other = register.path(data.draw(numbers.filter(lambda n: register.path(n) != one)))
        other.write_bytes(whole)
    assert register.problems()
    with pytest.raises(RecordError):
        register.records()
    shutil.rmtree(register.folder)
