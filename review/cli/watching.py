"""``benchgate check --watch``: a review on every save, until it is interrupted."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import click

from review.cli import output

LACKS = "--watch needs the package watchfiles: pip install 'benchgate[watch]'"
WAITING = "Waiting for the next save; Ctrl-C ends it."


def watched(file: Path, rules: tuple[Path, ...], plugin: tuple[Path, ...], quiet: bool) -> int:
    """Review now and after every save of the scenario or its rules; the last exit status.

    A file that is wrong is told and waited for. Plugins are read once: their code may only be
    loaded anew by a new process.
    """
    try:
        from watchfiles import watch
    except ModuleNotFoundError:
        raise click.ClickException(LACKS) from None
    names = {each.resolve() for each in (file, *rules)}
    status = _once(file, rules, plugin, quiet)
    # The folders are watched, not the files: an editor may put a new file in the old one's place.
    for changes in watch(*{name.parent for name in names}, recursive=False):
        if _concerns(changes, names):
            status = _once(file, rules, plugin, quiet)
    return status


def _concerns(changes: Iterable[tuple[Any, str]], names: set[Path]) -> bool:
    return any(Path(path).resolve() in names for _, path in changes)


def _once(file: Path, rules: tuple[Path, ...], plugin: tuple[Path, ...], quiet: bool) -> int:
    from review.engine.reviewing import Engine
    from review.explore.accuracy import weighed
    from review.judge.conditions import RulesetError
    from review.render.letter import render_letter
    from review.scenario import InputError

    click.clear()
    try:
        engine = Engine(plugin_files=plugin, rules_files=rules)
        scenario = engine.load(file)
        review = weighed(engine, scenario, engine.review(scenario))
    except (InputError, RulesetError, OSError) as wrong:
        output.write(f"{wrong}\n\n{WAITING}")
        return 2
    output.write(output.rendered(lambda console: render_letter(review, console, quiet=quiet)))
    output.write(WAITING)
    return output.EXIT_STATUS[review.verdict]
