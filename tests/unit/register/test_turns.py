"""Many who sign at once, clocks that are wrong, folders that cannot be written, and keys."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from review.register.chain import LONGEST_WAIT, Register
from review.register.record import RecordError, sealed, to_the_second
from review.register.signatures import SignatureError, fingerprint

Body = Callable[..., dict[str, Any]]
SIGNERS = ("preparer", "reviewer")
FIFTY = 50


# Turns


def test_fifty_signers_at_once_give_fifty_chained_records(tmp_path: Path, body: Body) -> None:
    """All let go at one moment, while somebody reads."""
    register = Register(tmp_path / "register")
    wait, go = os.pipe()
    children = [
        _child(partial(register.add, body(f"title: {n}\n")), wait, go) for n in range(FIFTY)
    ]
    os.close(wait)
    os.close(go)
    lengths: list[int] = []
    ended: list[int] = []
    while len(ended) < len(children):
        if register.folder.is_dir():
            assert register.problems() == ()
            lengths.append(len(register.records()))
        done, status = os.waitpid(-1, os.WNOHANG)
        if done in children:
            ended.append(status)
    assert ended == [0] * FIFTY
    assert lengths == sorted(lengths)
    assert register.problems() == ()
    told = [record.scenario_text for record in register.records()]
    assert sorted(told) == sorted(f"title: {number}\n" for number in range(FIFTY))


def _child(work: Callable[[], object], wait: int, go: int) -> int:
    """A process that begins to work once nobody holds the pipe's other end."""
    child = os.fork()
    if child == 0:
        try:
            os.close(go)
            os.read(wait, 1)
            work()
            os._exit(0)
        finally:
            os._exit(70)
    return child


@pytest.fixture
def meanwhile(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[], object]], None]:
    """`meanwhile(work)`: once, after a reader has read the head and before it reads the names."""

    def arrange(work: Callable[[], object]) -> None:
        ahead, listdir = [work], os.listdir

        def look(path: Any) -> list[str]:
            if ahead:
                ahead.pop()()
            return listdir(path)

        monkeypatch.setattr(os, "listdir", look)

    return arrange


def test_a_sign_off_while_somebody_reads_is_no_stranger(
    tmp_path: Path, body: Body, meanwhile: Any
) -> None:
    register = Register(tmp_path)
    register.add(body())
    meanwhile(lambda: Register(tmp_path).add(body()))
    assert register.problems() == ()
    assert register.path(2).exists()
    meanwhile(lambda: Register(tmp_path).add(body()))
    assert [record.number for record in register.records()] == [1, 2, 3]


def test_a_record_that_takes_its_place_while_somebody_reads_is_no_stranger(
    tmp_path: Path, body: Body, meanwhile: Any
) -> None:
    """Announced, and not counted yet: it may be seen or not."""
    from review.register.head import Head, Pending

    register = Register(tmp_path)
    register.add(body())
    before = (tmp_path / "head.json").read_bytes()
    register.add(body())
    old, new = (json.loads(data) for data in (before, (tmp_path / "head.json").read_bytes()))
    head = Head(1, old["sha256"], Pending(2, new["sha256"]))
    (tmp_path / "head.json").write_bytes(head.to_bytes())
    data = register.path(2).read_bytes()
    register.path(2).unlink()
    meanwhile(lambda: register.path(2).write_bytes(data))
    assert register.problems() == ()
    register.path(2).unlink()
    meanwhile(lambda: register.path(2).write_bytes(data))
    assert [record.number for record in register.records()] == [1]
    assert [record.number for record in register.records()] == [1, 2]


def test_whoever_waits_too_long_for_a_turn_is_told(tmp_path: Path, body: Body) -> None:
    from filelock import FileLock

    register = Register(tmp_path, lock_seconds=0.1)
    register.add(body())
    with (
        FileLock(tmp_path / ".lock"),
        pytest.raises(RecordError, match="somebody else has been signing .*nothing was signed"),
    ):
        register.add(body())
    assert len(register.records()) == 1


# Clocks


def _at(moment: datetime) -> str:
    return to_the_second(moment)


def test_a_clock_in_the_past_is_refused(tmp_path: Path, body: Body) -> None:
    """The newest record was signed in 2090, says its date; this computer has not got there."""
    register = Register(tmp_path)
    register.add(body(signed_at="2090-01-01T00:00:00Z"))
    with pytest.raises(RecordError) as caught:
        register.add(body(signed_at=_at(datetime.now(UTC))))
    assert "000001.json was signed at 2090-01-01T00:00:00Z already" in str(caught.value)
    assert "clock" in str(caught.value)
    assert len(register.records()) == 1 and register.problems() == ()


def test_a_sign_off_that_was_dated_long_ago_is_refused(tmp_path: Path, body: Body) -> None:
    now = datetime.now(UTC)
    register = Register(tmp_path)
    register.add(body(signed_at=_at(now)))
    with pytest.raises(RecordError, match="clock"):
        register.add(body(signed_at=_at(now - LONGEST_WAIT - timedelta(minutes=1))))
    assert len(register.records()) == 1


def test_whoever_had_to_wait_is_dated_when_the_turn_came(tmp_path: Path, body: Body) -> None:
    now = datetime.now(UTC).replace(microsecond=0)
    register = Register(tmp_path)
    register.add(body(signed_at=_at(now)))
    register.add(body(signed_at=_at(now - timedelta(seconds=30))))
    first, second = register.records()
    assert first.signed_at == now
    assert now <= second.signed_at <= datetime.now(UTC)
    assert register.problems() == ()


# Folders


def test_a_file_in_place_of_the_folder(tmp_path: Path, body: Body) -> None:
    file = tmp_path / "register"
    file.write_text("not a folder")
    for ask in (
        Register(file).records,
        Register(file).problems,
        lambda: Register(file).add(body()),
    ):
        with pytest.raises(RecordError, match="register is a file; a register is a folder"):
            ask()
    with pytest.raises(RecordError, match="register is a file; .*nothing was signed"):
        Register(file / "below" / "it").add(body())
    with pytest.raises(RecordError, match="it does not exist"):
        Register(file / "below" / "it").records()
    assert file.read_text() == "not a folder"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="register does not exist"):
        Register(tmp_path / "register").problems()


def test_what_is_no_record_is_not_written(tmp_path: Path, body: Body) -> None:
    register = Register(tmp_path)
    register.add(body())
    for wrong in (
        {**body(), "runs": 0},
        {**body(), "valid_until": "soon"},
        {**body(), "review": {}},
        {**body(), "runs": float("nan")},
        {**body(), "runs": object()},
        {**body(), "scenario": {**body()["scenario"], "text": "title: another\n"}},
    ):
        with pytest.raises(RecordError):
            register.add(wrong)
    assert len(register.records()) == 1 and register.problems() == ()


@pytest.mark.parametrize("what", ["record", "head"])
def test_a_register_of_a_newer_benchgate_is_left_alone(
    tmp_path: Path, body: Body, what: str
) -> None:
    register = Register(tmp_path)
    register.add(body())
    path = register.path(1) if what == "record" else tmp_path / "head.json"
    key = "benchgate_record" if what == "record" else "benchgate_register"
    whole = json.loads(path.read_bytes())
    path.write_text(json.dumps({**whole, key: 3, "seal": "of another kind"}))
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    for ask in (register.records, lambda: register.add(body())):
        with pytest.raises(RecordError, match="newer benchgate .format 3.*update benchgate"):
            ask()
    assert "update benchgate" in "\n".join(register.problems())
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


# Keys


def _signed(body: Body, keys: dict[str, Path]) -> tuple[dict[str, Any], dict[str, Path]]:
    signers = {role: keys[role] for role in SIGNERS}
    return body() | {"keys": {r: fingerprint(k) for r, k in signers.items()}}, signers


@pytest.fixture
def signed(tmp_path: Path, body: Body, keys: dict[str, Path]) -> Register:
    """A register of two records, the second of which both people signed with their keys."""
    register = Register(tmp_path / "register")
    register.add(body())
    register.add(*_signed(body, keys))
    return register


def test_both_sign_with_their_keys(signed: Register, keys: dict[str, Path]) -> None:
    """Checked by `ssh-keygen` itself, without this program."""
    assert signed.problems() == ()
    record = signed.path(2)
    for role in SIGNERS:
        made = subprocess.run(
            [
                *("ssh-keygen", "-Y", "check-novalidate", "-n", "benchgate-record"),
                *("-s", f"{record}.{role}.sig"),
            ],
            input=record.read_bytes(),
            capture_output=True,
            check=True,
        )
        assert signed.records()[1].keys[role] in made.stdout.decode()


@pytest.mark.parametrize("role", SIGNERS)
def test_a_missing_signature_shows(signed: Register, role: str) -> None:
    Path(f"{signed.path(2)}.{role}.sig").unlink()
    assert signed.problems() == (
        f"000002.json.{role}.sig is missing: 000002.json says that its {role} signed it",
    )


def test_a_changed_or_foreign_signature_shows(
    signed: Register, body: Body, keys: dict[str, Path]
) -> None:
    from review.register.signatures import sign

    sig = Path(f"{signed.path(2)}.reviewer.sig")
    whole = sig.read_bytes()
    middle = len(whole) // 2
    sig.write_bytes(whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :])
    assert "000002.json.reviewer.sig is no signature of 000002.json as it is" in str(
        signed.problems()
    )
    sig.write_bytes(sign(signed.path(2), keys["stranger"]))
    assert "000002.json.reviewer.sig was made with the key" in str(signed.problems())
    sig.write_bytes(sign(signed.path(1), keys["reviewer"]))
    assert "is no signature of 000002.json as it is" in str(signed.problems())
    sig.write_bytes(whole)
    assert signed.problems() == ()
    shutil.copy(sig, f"{signed.path(1)}.reviewer.sig")
    assert signed.problems() == (
        "000001.json.reviewer.sig is a signature that no record speaks of",
    )


def test_a_record_names_exactly_the_keys_that_sign(
    tmp_path: Path, body: Body, keys: dict[str, Path]
) -> None:
    register = Register(tmp_path)
    named, signers = _signed(body, keys)
    exchanged = dict(zip(SIGNERS, [keys["reviewer"], keys["preparer"]], strict=True))
    for wrong in ({}, {"preparer": keys["preparer"]}, exchanged, signers | {"x": keys["stranger"]}):
        with pytest.raises(RecordError, match="not those that the record names"):
            register.add(named, wrong)
    with pytest.raises(RecordError, match="not those that the record names"):
        register.add(body(), signers)
    assert not list(tmp_path.iterdir())


def test_one_key_cannot_sign_for_two(tmp_path: Path, body: Body, keys: dict[str, Path]) -> None:
    one = dict.fromkeys(SIGNERS, keys["preparer"])
    named = dict.fromkeys(SIGNERS, fingerprint(keys["preparer"]))
    with pytest.raises(RecordError, match="same key: each needs their own"):
        Register(tmp_path).add(body() | {"keys": named}, one)


def test_a_signature_of_a_record_that_changed_is_no_stranger(signed: Register) -> None:
    path = signed.path(2)
    path.write_bytes(path.read_bytes().replace(b"second teacher", b"another person"))
    assert signed.problems() == (
        "000002.json has been changed: its seal does not fit what it says",
    )


def test_a_missing_record_is_said_once(signed: Register) -> None:
    signed.path(2).unlink()
    assert signed.problems() == ("000002.json is missing (head.json counts 2)",)


def test_whoever_breaks_off_at_the_passphrase_leaves_the_register_as_it_was(
    tmp_path: Path, body: Body, keys: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    register = Register(tmp_path)
    register.add(body())
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}

    def interrupted(file: Path, key: Path) -> bytes:
        raise KeyboardInterrupt

    monkeypatch.setattr("review.register.chain.sign", interrupted)
    with pytest.raises(KeyboardInterrupt):
        register.add(*_signed(body, keys))
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_one_key_that_signed_for_two_shows(signed: Register, keys: dict[str, Path]) -> None:
    """`add` refuses it; another program may not."""
    from review.register.head import Head
    from review.register.signatures import sign

    record = json.loads(signed.path(2).read_bytes())
    record["keys"]["reviewer"] = record["keys"]["preparer"]
    data = sealed(record, 2, record["previous"])
    signed.path(2).write_bytes(data)
    (signed.folder / "head.json").write_bytes(Head(2, hashlib.sha256(data).hexdigest()).to_bytes())
    for role in SIGNERS:
        made = sign(signed.path(2), keys["preparer"])
        Path(f"{signed.path(2)}.{role}.sig").write_bytes(made)
    assert signed.problems() == ("000002.json: preparer and reviewer signed with the same key",)


@pytest.mark.parametrize("what", ["missing", "locked"])
def test_a_key_that_cannot_sign_leaves_the_register_as_it_was(
    tmp_path: Path, body: Body, keys: dict[str, Path], what: str
) -> None:
    register = Register(tmp_path)
    register.add(body())
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    key = keys["locked"] if what == "locked" else tmp_path / "nowhere"
    named = {"reviewer": fingerprint(keys["locked"])}
    with pytest.raises(SignatureError, match="passphrase|there is no key"):
        register.add(body() | {"keys": named}, {"reviewer": key})
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    register.add(body())


def test_without_ssh_keygen_a_signature_is_not_taken_for_good(
    signed: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    with pytest.raises(RecordError, match="ssh-keygen was not found.*nothing against any record"):
        signed.problems()
