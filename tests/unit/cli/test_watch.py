"""``check --watch``: a review now and after each save, of the file alone."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review.cli import group

DEMO = Path(__file__).parents[3] / "scenarios" / "nitrogen_dried.yaml"
#: What ends a scenario that was sound.
BROKEN = "title: a\n"


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    return Path(shutil.copy(DEMO, tmp_path))


def watched(monkeypatch: pytest.MonkeyPatch, file: Path, saves: list[tuple[str, str]]) -> Result:
    """Play saves, each a file's name beside the scenario and its new text."""
    watchfiles = pytest.importorskip("watchfiles")

    def watch(*folders: Path, **options: bool) -> Iterator[set[tuple[int, str]]]:
        assert [Path(folder) for folder in folders] == [file.parent]
        for name, text in saves:
            path = file.with_name(name)
            path.write_text(text)
            yield {(1, str(path))}

    monkeypatch.setattr(watchfiles, "watch", watch)
    return CliRunner().invoke(group, ["check", str(file), "--watch", "--quiet"])


def test_a_save_is_reviewed_and_what_is_wrong_is_told(
    monkeypatch: pytest.MonkeyPatch, saved: Path
) -> None:
    done = watched(monkeypatch, saved, [("notes.txt", "x"), (saved.name, BROKEN)])
    assert done.output.count("Waiting for the next save") == 2
    assert '"train" is missing' in done.output
    assert done.exit_code == 2


def test_without_the_package_it_says_which(monkeypatch: pytest.MonkeyPatch, saved: Path) -> None:
    monkeypatch.setitem(sys.modules, "watchfiles", None)
    done = CliRunner().invoke(group, ["check", str(saved), "--watch"])
    assert "pip install 'benchgate[watch]'" in done.output
    assert done.exit_code != 0
