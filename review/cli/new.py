"""``benchgate new``: start a scenario, a site's ruleset or a package with a check."""

from __future__ import annotations

import importlib.util
import keyword
import re
import sys
from collections.abc import Mapping
from pathlib import Path
from string import Template

import click

from review.cli import output
from review.cli.lists import schema_text

#: Written beside a scenario; the first line of the scenario tells editors so.
SCHEMA = "benchgate.schema.json"
EDITORS = f"# yaml-language-server: $schema={SCHEMA}"
TEMPLATES = Path(__file__).parents[1] / "scaffold"

_NAME = re.compile(r"[a-z][a-z0-9_]*")
_into = click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path(),
    help="The folder to write into; the present one if not given.",
)


@click.group()
def new() -> None:
    """Start a scenario, a site's ruleset or a package with a check; never overwrites."""


@new.command("check")
@click.argument("name")
@_into
def new_check(name: str, into: Path) -> None:
    """Write an installable package with a check of your own, its rules and its tests."""
    _valid(name, "a check", importable=True)
    words = {
        "name": name,
        "project": name.replace("_", "-"),
        "title": name.replace("_", " ").capitalize(),
    }
    source, folder = TEMPLATES / "check", into / name
    files = {
        str(path.relative_to(source)).removesuffix(".tmpl"): _filled(path, words)
        for path in sorted(source.rglob("*.tmpl"))
    }
    renamed = {
        path.replace("package/", f"{name}/").replace("test_check", f"test_{name}"): text
        for path, text in files.items()
    }
    if folder.exists():
        raise click.ClickException(f"{folder} is there already; nothing was written")
    _written({folder / path: text for path, text in renamed.items()})
    output.write(
        f"Written: {folder}\n"
        f"Next: cd {folder} && pip install -e '.[test]' && pytest\n"
        "Its computation and its limits are an example: replace them."
    )


@new.command("ruleset")
@click.argument("name")
@_into
def new_ruleset(name: str, into: Path) -> None:
    """Write a site's ruleset: one rule stricter, one of your own, a limit, whom to call."""
    _valid(name, "a ruleset")
    file = into / f"{name}.yaml"
    _written({file: _filled(TEMPLATES / "ruleset.yaml.tmpl", {"name": name})})
    output.write(
        f"Written: {file}\nNext: benchgate rules --rules {file}\n"
        "Its figures are examples: replace them."
    )


@new.command("scenario")
@click.argument("name", default="scenario")
@_into
@click.option("--ask", is_flag=True, help="Build it by questions; a terminal is asked anyway.")
def new_scenario(name: str, into: Path, ask: bool) -> None:
    """Write a scenario with comments: the usual parts, to be filled in."""
    _valid(name, "a scenario")
    file = into / f"{name}.yaml"
    _refuse_existing([file])
    from review.engine.reviewing import Engine

    engine = Engine()
    if ask or sys.stdin.isatty():
        from review.cli.asking import asked

        text = asked(engine.reference, engine.item_kinds)
        said = "What is assumed in it stands at its end: measure it."
    else:
        said = "Its figures are examples: replace them."
        text = (TEMPLATES / "scenario.yaml").read_text("utf-8")
    schema = into / SCHEMA
    beside = {} if schema.exists() else {schema: schema_text(engine)}
    _written({file: f"{EDITORS}\n{text}", **beside})
    output.write(f"Written: {file}\nNext: benchgate check {file}\n{said}")


@new.command("substance")
@click.argument("name")
@_into
def new_substance(name: str, into: Path) -> None:
    """Write a substance file from the library chemicals; what that lacks stays unknown.

    NAME is a name or a CAS number.
    """
    from review.reference.data import UnknownName, key
    from review.reference.library import look_up
    from review.reference.writing import substance_file

    try:
        found = look_up(name)
    except UnknownName:
        raise click.ClickException(f'the library has no substance called "{name}"') from None
    if found.phase_at_20C == "unknown":
        raise click.ClickException(f"the library does not say whether {found.name} is a gas")
    file = into / "substances" / f"{key(found.name).replace(' ', '_')}.yaml"
    _written({file: substance_file(found)})
    output.write(
        f"Written: {file}\nNext: complete what is unknown, each figure with its source, and return "
        f"{into} from the hook `substances` of a plugin."
    )


def valid_name(text: str) -> str:
    """The nearest name that may be used: lower case, digits and underscores, no Python word.

    >>> valid_name("My check!"), valid_name("2nd-try"), valid_name("class"), valid_name("lamp")
    ('my_check', 'n2nd_try', 'class_', 'lamp')
    """
    name = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")
    if not name or not name[0].isalpha():
        name = f"n{name}"
    return f"{name}_" if keyword.iskeyword(name) or keyword.issoftkeyword(name) else name


def _valid(name: str, what: str, *, importable: bool = False) -> None:
    """Refuse a name that cannot be used, with the nearest one that can."""
    near = valid_name(name)
    fits = _NAME.fullmatch(name) and not keyword.iskeyword(name) and not keyword.issoftkeyword(name)
    if not fits:
        raise click.ClickException(
            f"{name!r} cannot name {what}: lower-case letters, digits and underscores, a letter "
            f"first, and no word of Python; for example {near!r}"
        )
    if importable and _is_taken(name):
        raise click.ClickException(
            f"{name!r} cannot name {what}: a Python module or a check has this name; for example "
            f"'{name}_check'"
        )


def _is_taken(name: str) -> bool:
    from importlib.metadata import entry_points

    from review.interface.plugin import PROJECT

    if name in ("tests", *sys.stdlib_module_names):
        return True
    if any(point.name == name for point in entry_points(group=PROJECT)):
        return True
    found = importlib.util.find_spec(name)
    # A folder without code is no module yet: the one that is about to be written, for example.
    return found is not None and found.origin is not None


def _filled(template: Path, words: Mapping[str, str]) -> str:
    return Template(template.read_text("utf-8")).substitute(words)


def _refuse_existing(files: list[Path]) -> None:
    for file in files:
        if file.exists() or file.is_symlink():
            raise click.ClickException(f"{file} is there already; nothing was written")


def _written(files: Mapping[Path, str]) -> None:
    """Write new files, each only where there is none."""
    _refuse_existing(list(files))
    for file, text in files.items():
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            with file.open("x", encoding="utf-8") as stream:
                stream.write(text)
        except FileExistsError as error:
            raise click.ClickException(f"{file} is there already") from error
        except OSError as error:
            raise click.ClickException(f"cannot write {file}: {error.strerror}") from error
