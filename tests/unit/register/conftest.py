"""Small bodies for records, which a register chains without asking what they say, and real keys."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))  # for what several test modules share

HASH = "0" * 64


def _body(text: str = "title: a\n", signed_at: str = "2031-05-06T07:08:09Z") -> dict[str, Any]:
    """The least that a record says; `text` is its scenario."""
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    return {
        "signed_at": signed_at,
        "valid_until": "2031-08-06",
        "runs": 3,
        "preparer": "teacher",
        "reviewer": "second teacher",
        "keys": {},
        "scenario": {"title": "a", "file": "a.yaml", "sha256": sha256, "text": text},
        "ruleset": {"layers": [], "criteria": [], "limits": {}, "loosened": []},
        "review": {
            "benchgate": "0",
            "scenario": {"title": "a", "path": "a.yaml", "sha256": sha256},
            "verdict": "may proceed",
            "findings": [],
            "measures": [],
        },
        "data": [],
        "tool": {"benchgate": "0", "code": HASH, "python": "3", "libraries": {}, "plugins": []},
        "conditions": [],
        "answers": [],
        "cautions": [],
    }


@pytest.fixture(scope="session")
def body() -> Callable[..., dict[str, Any]]:
    """`body(text, signed_at)`: the least that a record says."""
    return _body


@pytest.fixture(scope="session")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Real SSH keys: one each for preparer and reviewer, a stranger's, and one with a passphrase.

    The preparer's and the stranger's file names begin with a dash, as an option does.
    """
    folder = tmp_path_factory.mktemp("keys")
    made = {}
    for name, file, passphrase in (
        ("preparer", "-preparer", ""),
        ("reviewer", "reviewer", ""),
        ("stranger", "-f", ""),
        ("locked", "locked", "open sesame"),
    ):
        made[name] = folder / file
        subprocess.run(
            ["ssh-keygen", "-q", "-t", "ed25519", "-N", passphrase, "-C", name, "-f", made[name]],
            check=True,
            stdin=subprocess.DEVNULL,
            timeout=60,
        )
    return made
