"""What the tests of the documents share: their fenced blocks and their commands."""

from __future__ import annotations

import re
import shlex
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review.cli import group

ROOT = Path(__file__).parents[2]
_BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_FILE = re.compile(r"# ([\w.]+\.(?:yaml|py))\n")
_STATUS = re.compile(r"# exit status (\d)")


@dataclass(frozen=True)
class Command:
    """One command line of a document, the exit status it states, and the output shown for it."""

    line: str
    status: int
    shown: str


class Page:
    """One document."""

    def __init__(self, path: Path) -> None:
        self.text = path.read_text("utf-8")
        self.blocks: list[tuple[str, str]] = _BLOCK.findall(self.text)

    @property
    def files(self) -> dict[str, str]:
        """Blocks that begin with a file's name, by that name."""
        named = ((_FILE.match(text), text) for _, text in self.blocks)
        return {found[1]: text for found, text in named if found}

    @property
    def commands(self) -> list[Command]:
        """Every ``benchgate`` command of the shell blocks, in order."""
        out: list[Command] = []
        for number, (language, text) in enumerate(self.blocks):
            lines = [t for t in text.splitlines() if language == "sh" and t.startswith("benchgate")]
            after = self.blocks[number + 1] if number + 1 < len(self.blocks) else ("", "")
            for line in lines:
                stated = _STATUS.search(line)
                shown = after[1] if after[0] == "text" and line is lines[-1] else ""
                out.append(Command(line, int(stated[1]) if stated else 0, shown))
        return out

    def rows(self, first: str) -> list[list[str]]:
        """The cells of the table whose first heading is `first`."""
        found = re.search(rf"^\| {re.escape(first)} \|.*?(?=^\s*$)", self.text, re.M | re.S)
        assert found, f"no table that begins with {first!r}"
        table = [re.split(r"(?<!\\)\|", line)[1:-1] for line in found[0].splitlines()[2:]]
        return [[cell.replace(r"\|", "|").strip() for cell in row] for row in table]


README = Page(ROOT / "README.md")
DEVELOPERS = Page(ROOT / "DEVELOPERS.md")


@pytest.fixture
def readme() -> Page:
    return README


@pytest.fixture
def developers() -> Page:
    return DEVELOPERS


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "documented" in metafunc.fixturenames:
        both = [(page, c) for page in (README, DEVELOPERS) for c in page.commands]
        metafunc.parametrize("documented", both, ids=[c.line for _, c in both])


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> object:
    """Runs a command of a page in a folder that holds the page's files and the demos."""

    def _run(page: Page, line: str) -> Result:
        shutil.copytree(ROOT / "scenarios", tmp_path / "scenarios")
        for name, text in page.files.items():
            (tmp_path / name).write_text(text, "utf-8")
        monkeypatch.chdir(tmp_path)
        return CliRunner().invoke(group, shlex.split(line, comments=True)[1:])

    return _run
