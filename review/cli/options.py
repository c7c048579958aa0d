"""Arguments and options that several verbs share."""

from __future__ import annotations

from pathlib import Path

import click

_INPUT = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)


def _with_those_of_the_machine(
    ctx: click.Context, parameter: click.Parameter, given: tuple[Path, ...]
) -> tuple[Path, ...]:
    """The rules of the person or machine, and over them those that were given."""
    from review.cli.machine import rules_of_the_machine

    own = rules_of_the_machine()
    known = {path.resolve() for path in own}
    return (*own, *(path for path in given if path.resolve() not in known))


def of_the_machine(rules: tuple[Path, ...]) -> int:
    """How many of these rules, at the beginning, are those of the person or machine."""
    from review.cli.machine import rules_of_the_machine

    own = rules_of_the_machine()
    return len(own) if rules[: len(own)] == own else 0


scenario_file = click.argument("file", type=_INPUT)
rules_files = click.option(
    "--rules",
    type=_INPUT,
    multiple=True,
    callback=_with_those_of_the_machine,
    help="A site's ruleset, laid over the built-in rules and those of this machine. May be given "
    "more than once.",
)
plugin_files = click.option(
    "--plugin",
    type=_INPUT,
    multiple=True,
    help="A Python file with a site's check. Its code is run. May be given more than once.",
)
register_folder = click.option(
    "--register",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    default=Path("register"),
    show_default=True,
    help="The folder that keeps the records; made if it is not there.",
)
one_person = click.option(
    "--one-person",
    is_flag=True,
    help="What one person alone signed is wanted; without it that is refused.",
)
