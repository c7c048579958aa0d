"""Signatures by a person's own SSH key, in the OpenSSH format, made and checked by `ssh-keygen`.

What is signed are the bytes of a record's file. Nothing here knows a secret: keys, passphrases and
agents are `ssh-keygen`'s business.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from review.register.people import alike, parted
from review.register.record import RecordError
from review.render.words import clean

#: What the signature is for; one made for anything else does not count.
NAMESPACE = "benchgate-record"
#: How long `ssh-keygen` may take, and a person who types a passphrase.
SECONDS, SECONDS_TO_TYPE = 30.0, 120.0

_MARK = b"\xef\xbb\xbf"
_PATTERN = re.compile(r"[*?]|\A!")
_FINGERPRINT = re.compile(r"SHA256:[A-Za-z0-9+/]{43}")


class SignatureError(RecordError):
    """A key, a file or `ssh-keygen` cannot be used; the message says why, in words."""


class BadSignature(SignatureError):
    """A signature does not show what it should."""


class NoProgram(SignatureError):
    """There is no `ssh-keygen` here, which says nothing of any signature."""


def fingerprint(key: Path) -> str:
    """The fingerprint of a key, like `SHA256:...`; `key` is a private key or its public half.

    Raises SignatureError where there is no key.
    """
    _must_exist(key, "key")
    done = _run(["-l", "-E", "sha256", "-f", _path(key)])
    lines = done.stdout.decode("utf-8", "replace").splitlines()
    found = _FINGERPRINT.search(lines[0]) if len(lines) == 1 else None
    if done.returncode or not found:
        raise SignatureError(f"{_name(key)} is no SSH key{_why_not(done)}")
    return found[0]


def sign(file: Path, key: Path) -> bytes:
    """The signature of a file's bytes by a private key, as the bytes of a .sig file.

    `key` may be the public half of a key that an ssh-agent holds. Asks for a passphrase where one
    is needed and there is a terminal to ask on. Raises SignatureError where it cannot be signed.
    """
    wanted = fingerprint(key)
    with tempfile.TemporaryDirectory(prefix="benchgate-") as folder:
        copy, made = Path(folder, "record"), Path(folder, "record.sig")
        copy.write_bytes(file.read_bytes())
        command = ["-Y", "sign", "-n", NAMESPACE, "-f", _path(key), _path(copy)]
        done = _run(command)
        if done.returncode and b"passphrase" in done.stderr:
            if not _at_terminal():
                raise SignatureError(
                    f"{_name(key)} is locked by a passphrase, and there is no terminal to ask for "
                    "it: sign in a terminal, or add the key to ssh-agent first"
                )
            # Which of two keys is meant, some versions of ssh-keygen do not say.
            print(f"The key {_name(key)} is locked by a passphrase.", file=sys.stderr, flush=True)
            done = _run(command, typed=True)
            if done.returncode and b"passphrase" in done.stderr:
                raise SignatureError(f"that is not the passphrase of {_name(key)}")
        if done.returncode:
            raise SignatureError(f"{_name(key)} cannot sign{_why_not(done)}")
        if signed_by(copy, made) != wanted:
            raise SignatureError(
                f"the signature is not by the key {_name(key)}: it and the file beside it that "
                "ends in .pub are no pair"
            )
        return made.read_bytes()


def signed_by(file: Path, sig: Path) -> str:
    """The fingerprint of the key that made a good signature of the file's bytes.

    Raises BadSignature where it is not good. Whose key it is, this does not say.
    """
    if not os.path.isfile(sig):
        raise BadSignature(f"there is no signature {_name(sig.name)}")
    done = _run(["-Y", "check-novalidate", "-n", NAMESPACE, "-s", _path(sig)], file)
    found = _FINGERPRINT.search(done.stdout.decode("utf-8", "replace"))
    if done.returncode or not found:
        raise BadSignature(
            f"{_name(sig.name)} is no signature of {_name(file.name)} as it is{_said(done)}"
        )
    return found[0]


def check(
    file: Path, sig: Path, allowed_signers: Path, person: str = "", at: datetime | None = None
) -> str:
    """Who signed a file: the principal that the allowed-signers file gives for the key.

    With `person` ("Name", an address, or "Name <address>") only the name or the address counts.
    `at` is when it was signed, for keys that hold only for a time; without it, now. Raises
    BadSignature where the signature does not fit the file or nobody allowed made it, and
    SignatureError where it cannot be checked.
    """
    return checked(file, sig, allowed_signers, person, at)[0]


def checked(
    file: Path, sig: Path, allowed_signers: Path, person: str = "", at: datetime | None = None
) -> tuple[str, str]:
    """As `check`, with the pattern by which the key is allowed; "" where it is by the name itself.

    A key that is allowed by a pattern may be that of anybody whom the pattern fits.
    """
    _must_exist(allowed_signers, "allowed-signers file")
    if allowed_signers.read_bytes().startswith(_MARK):
        # An editor put it there, and ssh-keygen takes it for a part of the first name.
        with tempfile.TemporaryDirectory(prefix="benchgate-") as folder:
            plain = Path(folder, allowed_signers.name)
            plain.write_bytes(allowed_signers.read_bytes().removeprefix(_MARK))
            return checked(file, sig, plain, person, at)
    key = signed_by(file, sig)
    when = [] if at is None else ["-O", f"verify-time={at.astimezone(UTC):%Y%m%d%H%M%S}Z"]
    common = ["-f", _path(allowed_signers), "-s", _path(sig), *when]
    done = _run(["-Y", "find-principals", *common])
    listed = done.stdout.decode("utf-8", "replace").splitlines()
    if done.returncode or not listed:
        raise BadSignature(
            f"{_name(sig.name)} was made with the key {key}, which {_name(allowed_signers)} does "
            f"not allow{_said(done)}"
        )
    for principal in _spellings(person, listed) if person else listed:
        done = _run(["-Y", "verify", "-n", NAMESPACE, "-I", principal, *common], file)
        if not done.returncode:
            named = principal in listed and not _PATTERN.search(principal)
            if taken := _of_another(person, listed, common[:2]):
                raise BadSignature(
                    f"{_name(sig.name)} was made with the key of {clean(principal)}, and the key "
                    f"of {clean(taken)} is another"
                )
            return principal, "" if named else ", ".join(listed)
    if person and not any(one in _spellings(person, []) for one in listed):
        raise BadSignature(
            f"{_name(sig.name)} was made with the key of {clean(', '.join(listed))}, not of "
            f"{clean(person)}{_said(done)}"
        )
    raise BadSignature(f"{_name(sig.name)} does not count{_said(done)}")


def _spellings(person: str, listed: Sequence[str]) -> list[str]:
    """How the allowed-signers file may name a person, as it spells it where it does."""
    name, address = parted(person)
    given = list(dict.fromkeys(filter(None, (person, address, name))))
    known = [one for one in listed if any(alike(one, other) for other in given)]
    return list(dict.fromkeys((*known, *given)))


def _of_another(person: str, listed: Sequence[str], signers: Sequence[str]) -> str:
    """The name or address of a person that belongs to a key other than the one `listed` is of.

    Else whoever has a key could sign as "somebody else <their own address>".
    """
    for given in filter(None, parted(person)):
        if not any(alike(one, given) for one in listed):
            done = _run(["-Y", "match-principals", "-I", given, *signers])
            found = done.stdout.decode("utf-8", "replace").splitlines()
            if not done.returncode and any(alike(one, given) for one in found):
                return given
    return ""


def _run(
    arguments: Sequence[str], file: Path | None = None, *, typed: bool = False
) -> subprocess.CompletedProcess[bytes]:
    """Run `ssh-keygen`: on a file's bytes, with the terminal where something is typed, or alone."""
    program = shutil.which("ssh-keygen")
    if program is None:
        raise NoProgram(
            "ssh-keygen was not found, so no signature can be made or checked: install OpenSSH 8.9 "
            "or later. That says nothing against any record"
        )
    # Its messages are read here, so they have to be in one language.
    environment = {**os.environ, "LC_ALL": "C"}
    if not typed:
        environment["SSH_ASKPASS_REQUIRE"] = "never"
    seconds = SECONDS_TO_TYPE if typed else SECONDS
    try:
        with open(os.devnull if file is None else file, "rb") as given:
            return subprocess.run(
                [program, *arguments],
                stdin=None if typed else given,
                capture_output=True,
                env=environment,
                timeout=seconds,
                start_new_session=not typed,  # which has no terminal to ask on unseen
                check=False,
            )
    except subprocess.TimeoutExpired:
        raise SignatureError(f"ssh-keygen was not done after {seconds:.0f} s") from None
    except (OSError, ValueError) as error:
        raise SignatureError(f"ssh-keygen cannot be run: {error}") from error


def _at_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _must_exist(path: Path, what: str) -> None:
    if not os.path.exists(path):
        raise SignatureError(f"there is no {what} {_name(path)}")
    if not os.path.isfile(path):
        raise SignatureError(f"the {what} {_name(path)} is no file")


def _path(path: Path) -> str:
    """A path that cannot be taken for an option."""
    return os.path.abspath(path)


def _name(path: Path | str) -> str:
    return clean(str(path))


def _said(done: subprocess.CompletedProcess[bytes]) -> str:
    """What `ssh-keygen` said last but for its own closing phrase, to follow a message."""
    lines = done.stderr.decode("utf-8", "replace").splitlines()
    told = [line for line in map(clean, lines) if line and line != "No principal matched."]
    return f" (ssh-keygen: {told[-1]})" if told else ""


def _why_not(done: subprocess.CompletedProcess[bytes]) -> str:
    if b"UNPROTECTED" in done.stderr:
        return ": others can read its file, so ssh-keygen refuses it; take their permission away"
    if b"unknown option" in done.stderr or b"illegal option" in done.stderr:
        return ": this ssh-keygen is too old; install OpenSSH 8.9 or later"
    return _said(done)
