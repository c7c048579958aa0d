"""The register: a folder of records, each chained to the one before it, and a head that counts."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from review.register.record import Record, RecordError


class Register:
    """A folder of records. Reading takes no lock; whoever signs waits for their turn."""

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)

    def add(self, body: Mapping[str, Any], signers: Mapping[str, Path] | None = None) -> Path:
        """Chain a composed record to the register; the path of its file.

        `signers` are private keys by role ("preparer", "reviewer"), those that `body["keys"]`
        names. The folder is made where there is none. Raises RecordError, and leaves the register
        as it was, where it cannot be written or is not in order.
        """
        raise RecordError(f"{self.folder} cannot be written")

    def records(self) -> tuple[Record, ...]:
        """Every record in order; raises RecordError at the first that cannot be read."""
        return ()

    def problems(self) -> tuple[str, ...]:
        """Everything that shows that the register is not as it was signed, in words."""
        return ()

    def notes(self) -> tuple[str, ...]:
        """What is no problem but worth knowing: a sign-off that was broken off."""
        return ()
