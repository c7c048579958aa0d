"""Signatures by a person's own SSH key, in the OpenSSH format, made and checked by `ssh-keygen`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from review.register.record import RecordError

#: What the signature is for; one made for anything else does not count.
NAMESPACE = "benchgate-record"


class SignatureError(RecordError):
    """A key or `ssh-keygen` cannot be used; the message says why, in words."""


class BadSignature(SignatureError):
    """A signature does not show what it should."""


def fingerprint(key: Path) -> str:
    """The fingerprint of a key, like `SHA256:...`; of a private key or its public half."""
    raise SignatureError(f"{key} cannot be read")


def sign(file: Path, key: Path) -> bytes:
    """The signature of a file's bytes by a private key, as the bytes of a .sig file."""
    raise SignatureError(f"{file} cannot be signed with {key}")


def signed_by(file: Path, sig: Path) -> str:
    """The fingerprint of the key that made a good signature of the file's bytes.

    Raises BadSignature where it is not good. Whose key it is, this does not say.
    """
    raise BadSignature(f"{sig} does not fit {file}")


def check(
    file: Path, sig: Path, allowed_signers: Path, person: str = "", at: datetime | None = None
) -> str:
    """Who signed a file: the principal that the allowed-signers file gives for the key.

    With `person` ("Name", an address, or "Name <address>") only a principal that is the name or
    the address counts. `at` is when it was signed, for keys that hold only for a time. Raises
    BadSignature where the signature does not fit the file or nobody allowed made it, and
    SignatureError where it cannot be checked.
    """
    raise BadSignature(f"{sig} does not fit {file}")
