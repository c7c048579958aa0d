"""A file that is written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path


def replaced(path: Path, parts: Iterable[bytes]) -> None:
    """Writes a file that is then complete, or as it was; what is no file, as a pipe, is written to.

    Raises OSError.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     replaced(Path(folder, "a.txt"), [b"one ", b"two"])
    ...     Path(folder, "a.txt").read_text()
    'one two'
    """
    target = path.resolve()
    if target.exists() and not target.is_file() and not target.is_dir():
        with target.open("wb") as stream:
            stream.writelines(parts)
        return
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.writelines(parts)
            stream.flush()
            os.fsync(stream.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(name, 0o666 & ~mask)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
