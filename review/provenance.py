"""Which code computed a result: a hash of benchgate's own files and the libraries' versions."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

#: Libraries whose results go into a number or a grade.
LIBRARIES = (
    "numpy", "scipy", "chemicals", "fluids", "pint", "pydantic", "pyyaml", "cel-expr-python",
)  # fmt: skip


@cache
def code_hash() -> str:
    """SHA-256 over every file of the engine and the built-in checks, by name.

    >>> len(code_hash())
    64
    """
    digest = hashlib.sha256()
    for package in ("review", "review.plugins"):
        folder = Path(str(import_module(package).__file__)).parent
        for path in sorted(folder.rglob("*")):
            name = path.relative_to(folder)
            if "__pycache__" not in name.parts and path.is_file():
                digest.update(f"{package}/{name.as_posix()}".encode() + b"\0")
                digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


@cache
def libraries() -> dict[str, str]:
    """Name and version of each library that numbers depend on."""
    return {name: version(name) for name in LIBRARIES}
