"""Signs through the command line, as a script would that fills in the answers it is asked for."""

from __future__ import annotations

from contextlib import chdir
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import yaml
from click.testing import CliRunner, Result

from review.cli import group

SCENARIOS = Path(__file__).parents[3] / "scenarios"
NAMES = ("--preparer", "teacher", "--reviewer", "second teacher")


def run(*args: object) -> Result:
    return CliRunner().invoke(group, [str(arg) for arg in args], prog_name="benchgate")


def filled(text: str, said: str = "seen and done") -> str:
    """A file of answers with words put in every place that is left blank."""
    text = text.replace('said: ""', f'said: "{said}"').replace('role: ""', 'role: "teacher"')
    return text.replace('why: ""', 'why: "it is far below what is known to ignite"')


def missing(answers: str = "answers.yaml", said: str = "seen and done") -> list[str]:
    """The options that a file of answers asks for, with words put in its blank places."""
    told = yaml.safe_load(filled(Path(answers).read_text("utf-8"), said))
    options: list[str] = []
    for entry in told.get("confirm") or ():
        options += [p for id in entry["settles"] for p in ("--accept", f"{id}={entry['said']}")]
    for entry in told.get("answer") or ():
        text = f"{entry['role']}: {entry['why']}"
        options += [p for id in entry["settles"] for p in ("--answer", f"{id}={text}")]
    return options


@cache
def _confirming(demo: str) -> tuple[str, ...]:
    """The options that a demo's sign-off needs, from the file that its refusal writes."""
    with TemporaryDirectory() as folder, chdir(folder):
        refused = run("sign", SCENARIOS / demo, "--register", SCENARIOS / "never written")
        assert refused.exit_code == 1, refused.output
        return tuple(missing())


def sign(file: Path, register: Path, *options: object) -> Result:
    """Sign a demo or a copy of it with all that is said to be missing."""
    return run("sign", file, "--register", register, *NAMES, *_confirming(file.name), *options)
