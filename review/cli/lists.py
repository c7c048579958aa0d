"""``benchgate checks``, ``rules`` and ``schema``: what the tool knows, without a scenario."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.plugin import Check, Kind
    from review.rules import Criterion


@click.command()
@options.plugin_files
def checks(plugin: tuple[Path, ...]) -> None:
    """List the checks: what each covers, what it does not, and what it measures."""
    from review.engine import Engine

    engine = Engine(plugin_files=plugin)
    output.write(output.rendered(lambda c: _draw_checks(c, engine.checks, engine.kinds)))


@click.command()
@options.rules_files
@options.plugin_files
def rules(rules: tuple[Path, ...], plugin: tuple[Path, ...]) -> None:
    """List the criteria in force, each with the layer it comes from."""
    from review.engine import Engine

    engine = Engine(plugin_files=plugin, rules_files=rules)
    criteria = tuple(engine.ruleset.criteria)
    output.write(output.rendered(lambda c: _draw_rules(c, criteria, engine.kinds)))


@click.command()
def schema() -> None:
    """Print the JSON Schema of the scenario file, for editors."""
    from review.scenario import json_schema

    output.write(json.dumps(json_schema(), indent=2, allow_nan=False))


def _draw_checks(console: Console, found: tuple[Check, ...], kinds: Mapping[str, Kind]) -> None:
    from review.cautions import DEFERS
    from review.render.page import Page

    page = Page(console)
    for check in found:
        page.heading(f"{check.title} ({check.id} {check.version})")
        for covered in check.covers:
            page.text(covered, indent=4, label="Covers:")
        for gap in check.not_covered:
            page.text(gap, indent=4, label="Does not cover:")
        for source in check.sources:
            page.text(source, indent=4, label="Source:")
    page.heading("What they measure")
    for kind in sorted(kinds.values(), key=lambda k: k.id):
        unit = kind.display or kind.unit
        shown = f", in {unit}" if unit not in ("", "1") else ""
        page.text(f"{kind.title}{shown}; worse when {kind.worse}", indent=4, label=f"{kind.id}:")
    page.blank()
    page.text(DEFERS)


def _draw_rules(
    console: Console, criteria: tuple[Criterion, ...], kinds: Mapping[str, Kind]
) -> None:
    raise NotImplementedError
