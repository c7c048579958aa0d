"""Small bodies for records, which a register chains without asking what they say, and real keys."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.support import record_body

sys.path.insert(0, str(Path(__file__).parent))  # for what several test modules share


@pytest.fixture(scope="session")
def body() -> Callable[..., dict[str, Any]]:
    """`body(text, signed_at)`: the least that a record says."""
    return record_body


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
