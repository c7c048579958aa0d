"""Arguments and options that several verbs share."""

from __future__ import annotations

from pathlib import Path

import click

_INPUT = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)

scenario_file = click.argument("file", type=_INPUT)
rules_files = click.option(
    "--rules",
    type=_INPUT,
    multiple=True,
    help="A site's ruleset, laid over the built-in rules. May be given more than once.",
)
plugin_files = click.option(
    "--plugin",
    type=_INPUT,
    multiple=True,
    help="A Python file with a site's check. Its code is run. May be given more than once.",
)
