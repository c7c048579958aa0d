"""Signatures made and checked with a real `ssh-keygen`."""

from __future__ import annotations

import os
import pty
import select
import shutil
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from review.register import signatures
from review.register.signatures import (
    BadSignature,
    SignatureError,
    check,
    fingerprint,
    sign,
    signed_by,
)

Keys = dict[str, Path]


def _public(key: Path) -> str:
    """Kind and key of its public half, as an allowed-signers file has them."""
    return " ".join(Path(f"{key}.pub").read_text().split()[:2])


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A file whose name could be taken for an option."""
    path = tmp_path / "-record"
    path.write_bytes(b"what is signed\n")
    return path


@pytest.fixture
def sig(file: Path, keys: Keys) -> Path:
    """The preparer's signature of it."""
    path = file.with_name("-record.sig")
    path.write_bytes(sign(file, keys["preparer"]))
    return path


@pytest.fixture
def allowed(tmp_path: Path, keys: Keys) -> Path:
    """Both people, one by name, one by address."""
    path = tmp_path / "-allowed"
    path.write_text(
        f'"lab technician,tech@lab.example" {_public(keys["preparer"])}\n'
        f"second@lab.example {_public(keys['reviewer'])}\n"
    )
    return path


def test_a_fingerprint_is_what_ssh_keygen_prints(keys: Keys) -> None:
    key = keys["reviewer"]
    printed = subprocess.run(["ssh-keygen", "-l", "-f", key], capture_output=True, check=True)
    assert fingerprint(key) == printed.stdout.decode().split()[1]
    assert fingerprint(Path(f"{key}.pub")) == fingerprint(key)
    assert fingerprint(keys["locked"]).startswith("SHA256:")


def test_ssh_keygen_takes_the_signature(file: Path, sig: Path, allowed: Path, keys: Keys) -> None:
    """As anybody would check it who does not have this program."""
    command = ["ssh-keygen", "-Y", "verify", "-f", allowed, "-I", "tech@lab.example"]
    command += ["-n", "benchgate-record", "-s", sig]
    done = subprocess.run(command, input=file.read_bytes(), capture_output=True)
    assert done.returncode == 0, done.stderr
    assert fingerprint(keys["preparer"]) in done.stdout.decode()


def test_a_signature_made_by_hand_is_taken(
    file: Path, allowed: Path, keys: Keys, tmp_path: Path
) -> None:
    command = ["ssh-keygen", "-Y", "sign", "-n", "benchgate-record", "-f", keys["reviewer"]]
    made = subprocess.run(command, input=file.read_bytes(), capture_output=True, check=True)
    by_hand = tmp_path / "by hand"
    by_hand.write_bytes(made.stdout)
    assert signed_by(file, by_hand) == fingerprint(keys["reviewer"])
    assert check(file, by_hand, allowed) == "second@lab.example"


def test_signing_leaves_nothing_beside_the_file(file: Path, keys: Keys) -> None:
    sign(file, keys["preparer"])
    assert os.listdir(file.parent) == [file.name]


@pytest.mark.parametrize(
    ("person", "principal"),
    [
        ("", "lab technician"),
        ("lab technician", "lab technician"),
        ("Lab  Technician", "lab technician"),
        ("lab technician <tech@lab.example>", "lab technician"),
        ("somebody <tech@lab.example>", "tech@lab.example"),
        ("tech@lab.example", "tech@lab.example"),
    ],
)
def test_who_signed(file: Path, sig: Path, allowed: Path, person: str, principal: str) -> None:
    assert check(file, sig, allowed, person) == principal


@pytest.mark.parametrize(
    "person", ["second <second@lab.example>", "technician", "*", "-", "lab technician,tech"]
)
def test_nobody_else_signed(file: Path, sig: Path, allowed: Path, person: str) -> None:
    with pytest.raises(BadSignature, match="the key of lab technician, tech@lab.example, not of"):
        check(file, sig, allowed, person)


@pytest.mark.parametrize(
    "person", ["second@lab.example <tech@lab.example>", "lab technician <second@lab.example>"]
)
def test_nobody_signs_in_the_name_of_somebody_who_has_a_key(
    file: Path, sig: Path, allowed: Path, person: str
) -> None:
    with pytest.raises(BadSignature, match="the key of second@lab.example is another"):
        check(file, sig, allowed, person)


def test_a_pattern_may_allow_a_whole_laboratory(
    file: Path, sig: Path, tmp_path: Path, keys: Keys
) -> None:
    path = tmp_path / "allowed"
    path.write_text(f"*@lab.example {_public(keys['preparer'])}\n")
    assert check(file, sig, path, "teacher <t@lab.example>") == "t@lab.example"
    with pytest.raises(BadSignature):
        check(file, sig, path, "teacher <t@other.example>")


def test_a_key_that_nobody_allowed(file: Path, allowed: Path, keys: Keys, tmp_path: Path) -> None:
    path = tmp_path / "sig"
    path.write_bytes(sign(file, keys["stranger"]))
    with pytest.raises(BadSignature) as caught:
        check(file, path, allowed)
    assert fingerprint(keys["stranger"]) in str(caught.value)
    assert "does not allow" in str(caught.value)


def test_a_key_that_holds_for_a_time_only(
    file: Path, sig: Path, tmp_path: Path, keys: Keys
) -> None:
    """It counts by the time at which it signed."""
    path = tmp_path / "allowed"
    path.write_text(f'technician valid-before="20300101" {_public(keys["preparer"])}\n')
    assert check(file, sig, path, at=datetime(2029, 12, 30, tzinfo=UTC)) == "technician"
    with pytest.raises(BadSignature, match="expired"):
        check(file, sig, path, at=datetime(2030, 1, 3, tzinfo=UTC))


def test_any_changed_byte_of_file_or_signature_shows(file: Path, sig: Path) -> None:
    """What armour and line breaks leave open in the signature's text changes nothing signed."""
    whole = file.read_bytes()
    for at in range(0, len(whole), 3):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        with pytest.raises(BadSignature, match="-record.sig is no signature of -record as it is"):
            signed_by(file, sig)
    file.write_bytes(whole)
    armoured = sig.read_bytes()
    for at in range(0, len(armoured), 17):
        sig.write_bytes(armoured[:at] + bytes([armoured[at] ^ 1]) + armoured[at + 1 :])
        with pytest.raises(BadSignature):
            signed_by(file, sig)


def test_a_signature_for_another_purpose_does_not_count(
    file: Path, allowed: Path, keys: Keys, tmp_path: Path
) -> None:
    command = ["ssh-keygen", "-Y", "sign", "-n", "file", "-f", keys["preparer"]]
    made = subprocess.run(command, input=file.read_bytes(), capture_output=True, check=True)
    other = tmp_path / "other"
    other.write_bytes(made.stdout)
    with pytest.raises(BadSignature, match="namespace"):
        check(file, other, allowed)


@pytest.mark.parametrize("text", ["", "# nobody\n", "garbage\n", "\0\1\2"])
def test_an_allowed_signers_file_that_allows_nobody(
    file: Path, sig: Path, tmp_path: Path, text: str
) -> None:
    path = tmp_path / "allowed"
    path.write_text(text)
    with pytest.raises(BadSignature, match="does not allow"):
        check(file, sig, path)


def test_what_is_missing_is_named(file: Path, sig: Path, allowed: Path, keys: Keys) -> None:
    nowhere = file.parent / "nowhere"
    for ask, message in (
        (lambda: fingerprint(nowhere), "there is no key .*nowhere"),
        (lambda: sign(file, nowhere), "there is no key .*nowhere"),
        (lambda: fingerprint(file.parent), "the key .* is no file"),
        (lambda: fingerprint(file), "-record is no SSH key"),
        (lambda: sign(file, file), "-record is no SSH key"),
        (lambda: check(file, sig, nowhere), "there is no allowed-signers file .*nowhere"),
        (lambda: check(file, nowhere, allowed), "there is no signature nowhere"),
    ):
        with pytest.raises(SignatureError, match=message):
            ask()


def test_a_key_that_others_can_read_is_refused_in_words(file: Path, keys: Keys) -> None:
    keys["stranger"].chmod(0o644)
    try:
        with pytest.raises(SignatureError, match="others can read its file"):
            sign(file, keys["stranger"])
    finally:
        keys["stranger"].chmod(0o600)


def test_halves_that_are_no_pair_are_refused(file: Path, keys: Keys, tmp_path: Path) -> None:
    key = tmp_path / "key"
    key.write_bytes(keys["preparer"].read_bytes())
    key.chmod(0o600)
    Path(f"{key}.pub").write_text(Path(f"{keys['reviewer']}.pub").read_text())
    with pytest.raises(SignatureError, match="key cannot sign .ssh-keygen: .*doesn't match"):
        sign(file, key)


def test_without_ssh_keygen(file: Path, keys: Keys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    with pytest.raises(SignatureError, match="ssh-keygen was not found.*install OpenSSH"):
        sign(file, keys["preparer"])


@pytest.mark.parametrize(
    ("script", "message"),
    [
        # Signs with another key than the one it was given.
        ('[ $2 = sign ] && exec {real} -Y sign -n $4 -f {other} $7; exec {real} "$@"', "no pair"),
        ("exec sleep 60", "not done after"),
        ("[ $1 = -l ] && exec {real} \"$@\"; echo 'unknown option -- Y' >&2; exit 1", "too old"),
        ("echo fine", "is no SSH key"),
    ],
)
def test_a_tool_that_hangs_or_is_another(
    file: Path,
    keys: Keys,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    script: str,
    message: str,
) -> None:
    folder = tmp_path / "bin"
    folder.mkdir()
    tool = folder / "ssh-keygen"
    script = script.replace("{real}", str(shutil.which("ssh-keygen")))
    script = script.replace("{other}", str(keys["stranger"]))
    tool.write_text(f"#!/bin/sh\n{script}\n")
    tool.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder) + os.pathsep + os.environ["PATH"])
    if "sleep" in script:
        monkeypatch.setattr(signatures, "SECONDS", 0.3)
    with pytest.raises(SignatureError, match=message):
        sign(file, keys["preparer"])


# Passphrases


def test_a_passphrase_and_no_terminal(file: Path, keys: Keys) -> None:
    with pytest.raises(SignatureError, match="locked by a passphrase, and there is no terminal"):
        sign(file, keys["locked"])


@pytest.mark.parametrize(
    ("typed", "end"),
    [("open sesame", "signed by SHA256:"), ("wrong", "that is not the passphrase of")],
)
def test_a_passphrase_is_asked_for_on_a_terminal(
    file: Path, keys: Keys, typed: str, end: str
) -> None:
    program = (
        "import sys; from pathlib import Path;"
        "from review.register.signatures import SignatureError, sign, signed_by\n"
        "file, key = map(Path, sys.argv[1:])\n"
        "try:\n"
        "    sig = file.with_name('made'); sig.write_bytes(sign(file, key))\n"
        "    print('signed by', signed_by(file, sig))\n"
        "except SignatureError as error:\n"
        "    print(error)\n"
    )
    child, terminal = pty.fork()
    if child == 0:
        os.execv(sys.executable, [sys.executable, "-c", program, str(file), str(keys["locked"])])
    seen = _spoken(terminal, typed)
    os.close(terminal)
    os.waitpid(child, 0)
    assert f"The key {keys['locked']} is locked by a passphrase." in seen
    assert end in seen
    assert typed not in seen


def _spoken(terminal: int, typed: str) -> str:
    """What a terminal shows where the same is typed whenever a passphrase is asked for."""
    seen, answered, end = b"", 0, time.monotonic() + 60
    while time.monotonic() < end:
        if not select.select([terminal], [], [], 1)[0]:
            continue
        try:
            read = os.read(terminal, 4096)
        except OSError:  # the program has ended
            break
        seen += read
        while seen.count(b"Enter passphrase") > answered:
            os.write(terminal, typed.encode() + b"\n")
            answered += 1
    return seen.decode()


def test_a_byte_order_mark_before_the_allowed_signers_changes_nothing(
    file: Path, sig: Path, allowed: Path
) -> None:
    """Some editors put one there; the first name of the file is then no other."""
    plain = allowed.read_bytes()
    before = check(file, sig, allowed)
    allowed.write_bytes(b"\xef\xbb\xbf" + plain)
    assert check(file, sig, allowed) == before
