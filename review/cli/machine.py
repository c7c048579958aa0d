"""Site rules that a person or a machine has set once: by a variable, else by a settings file.

`BENCHGATE_RULES` names ruleset files, absolute paths with the system's separator between them; a
blank one stands for none. Without it, `benchgate/settings.yaml` in the user's configuration folder
may hold `rules`, a list of absolute paths. Rules only, never plugins: opening the settings of
somebody else must not run their code. Nothing beside a scenario is ever read.
"""

from __future__ import annotations

import os
from pathlib import Path

import click

VARIABLE = "BENCHGATE_RULES"
_FILE = ("benchgate", "settings.yaml")


def settings_file() -> Path:
    """Where the settings of a person are looked for, whether or not they are there."""
    if os.name == "nt" and os.environ.get("APPDATA"):
        return Path(os.environ["APPDATA"], *_FILE)
    given = os.environ.get("XDG_CONFIG_HOME", "")
    base = Path(given) if os.path.isabs(given) else Path(os.path.expanduser("~"), ".config")
    return base.joinpath(*_FILE)


def rules_of_the_machine() -> tuple[Path, ...]:
    """The ruleset files that were set; raises `click.ClickException` where one cannot be used."""
    told = os.environ.get(VARIABLE)
    if told is not None:
        named = [text.strip() for text in told.split(os.pathsep) if text.strip()]
        return tuple(_usable(text, VARIABLE) for text in named)
    file = settings_file()
    if not file.is_file():
        return ()
    return tuple(_usable(text, str(file)) for text in _listed(file))


def _listed(file: Path) -> list[str]:
    from review.render.words import clean
    from review.scenario import InputError
    from review.scenario.yaml import read_file

    try:
        data = read_file(file).data
    except InputError as error:
        raise click.ClickException(str(error)) from error
    strange = [key for key in data if key != "rules"]
    if strange:
        what = clean(str(strange[0]))
        why = "settings name rules alone, never plugins" if "plugin" in what else "it knows: rules"
        raise click.ClickException(f"{file}: {what!r} is no setting: {why}")
    rules = data.get("rules") or []
    if not isinstance(rules, list) or not all(isinstance(each, str) for each in rules):
        raise click.ClickException(f"{file}: rules is no list of paths")
    return rules


def _usable(text: str, where: str) -> Path:
    from review.render.words import clean

    path = Path(text)
    if not path.is_absolute():
        raise click.ClickException(f"{where}: {clean(text)!r} is no absolute path")
    if not path.is_file():
        raise click.ClickException(f"{where}: there is no ruleset {clean(text)!r}")
    return path
