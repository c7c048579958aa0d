"""``benchgate checks``, ``rules`` and ``schema``: what the tool knows, without a scenario."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.engine.reviewing import Engine
    from review.engine.vocabulary import Entry
    from review.interface.plugin import Kind
    from review.judge.ruleset import Criterion
    from review.render.page import Page


@click.command()
@options.plugin_files
def checks(plugin: tuple[Path, ...]) -> None:
    """List the checks: what each covers, what it does not, and what it measures."""
    from review.engine.reviewing import Engine

    engine = Engine(plugin_files=plugin)
    output.write(output.rendered(lambda c: _draw_checks(c, engine)))


@click.command()
@options.rules_files
@options.plugin_files
def rules(rules: tuple[Path, ...], plugin: tuple[Path, ...]) -> None:
    """List the criteria in force, each with its layer, and what differs from the built-in ones."""
    from review.engine.reviewing import Engine

    engine = Engine(plugin_files=plugin, rules_files=rules)
    output.write(output.rendered(lambda console: _draw_rules(console, engine)))


@click.command()
@options.plugin_files
def schema(plugin: tuple[Path, ...]) -> None:
    """Print the JSON Schema of the scenario file, for editors, with the words it knows."""
    from review.engine.reviewing import Engine

    output.write(schema_text(Engine(plugin_files=plugin)))


def schema_text(engine: Engine) -> str:
    """The JSON Schema with the words that this engine knows."""
    from review.scenario import json_schema

    lists = {kind: [text for entry in entries for text in entry.spellings]
             for kind, entries in engine.vocabulary().items()}  # fmt: skip
    return json.dumps(json_schema(lists), indent=2, allow_nan=False)


@click.command()
@click.argument("kind", required=False)
@options.plugin_files
def words(kind: str | None, plugin: tuple[Path, ...]) -> None:
    """Print the words a scenario may use, each with its synonyms.

    KIND is one of heat, safeguard, joint, item, material, mixture, substance, catalyst form, hood,
    exhaust, instrument; all without it, but for the long lists of materials, mixtures, substances.
    KIND key lists what a file may state, section by section.
    """
    from review.engine.reviewing import Engine
    from review.scenario.errors import nearest

    if kind in ("key", "keys"):
        output.write(output.rendered(_draw_keys))
        return
    found = Engine(plugin_files=plugin).vocabulary()
    if kind is not None and kind not in found:
        near = nearest(kind, found)
        hint = f"did you mean {near!r}?" if near else f"there are {', '.join(found)}"
        raise click.UsageError(f"there is no list of words {kind!r}; {hint}")
    chosen = [kind] if kind else [each for each in found if each not in _LONG]
    output.write(output.rendered(lambda c: _draw_words(c, {k: found[k] for k in chosen})))


def _draw_keys(console: Console) -> None:
    from review.render.page import Page
    from review.scenario.keys import described, sections, without_none
    from review.scenario.words import Known

    page = Page(console)
    for place, model in sections().items():
        page.heading(place or "The file")
        for name, field in model.model_fields.items():
            plain = "text" if without_none(field.annotation) in (str, Known) else "its own section"
            told = described(place, name).strip(" ()") or plain
            page.text(told, indent=4, label=f"{field.alias or name}:")


#: Lists that are only printed when they are asked for.
_LONG = ("material", "mixture", "substance")


def _draw_words(console: Console, lists: Mapping[str, Sequence[Entry]]) -> None:
    from review.render.page import Page

    page = Page(console)
    for kind, entries in lists.items():
        page.heading(kind.capitalize())
        for entry in entries:
            told = f" ({', '.join(entry.marks)})" if entry.marks else ""
            page.text(", ".join(entry.spellings[1:]), indent=4, label=f"{entry.spellings[0]}{told}")


def _draw_checks(console: Console, engine: Engine) -> None:
    from review.cautions import DEFERS
    from review.render.page import Page

    page = Page(console)
    for check in engine.checks:
        page.heading(f"{check.title} ({check.id} {check.version})")
        for covered in check.covers:
            page.text(covered, indent=4, label="Covers:")
        for gap in check.not_covered:
            page.text(gap, indent=4, label="Does not cover:")
        for source in check.sources:
            page.text(source, indent=4, label="Source:")
    if engine.failures:
        page.heading("Checks that failed to load; nothing they cover is judged")
        for failure in engine.failures:
            page.text(failure.reason, indent=4, label=f"{failure.check}:")
    page.heading("What they measure")
    for kind in sorted(engine.kinds.values(), key=lambda k: k.id):
        unit = kind.display or kind.unit
        shown = f", in {unit}" if unit not in ("", "1") else ""
        page.text(f"{kind.title}{shown}; worse when {kind.worse}", indent=4, label=f"{kind.id}:")
    page.blank()
    page.text(DEFERS)


def _draw_rules(console: Console, engine: Engine) -> None:
    from review.cautions import DEFERS
    from review.render.page import Page
    from review.render.words import rules_used

    page = Page(console)
    rules, differences = engine.ruleset, engine.differences
    page.text(f"{rules_used(rules.layers)}.", label="Rules:", style="bold")
    for line in rules.contacts:
        page.text(line, indent=4, label="Contact:")
    for line in rules.reviewers:
        page.text(line, indent=4, label="May be the second person, key:")
    if differences:
        page.heading("What differs from the built-in rules")
        for line in differences:
            page.text(line, indent=4)
        page.blank()
    for criterion in rules.criteria:
        page.heading(f"{criterion.id}: {criterion.title}")
        page.text(criterion.layer, indent=4, label="Layer:")
        if criterion.disabled:
            page.text(criterion.disabled_reason, indent=4, label="Switched off:")
        if criterion.applies is not None:
            page.text(criterion.applies.text, indent=4, label="Applies if:")
        if criterion.require is not None:
            page.text(criterion.require.text, indent=4, label="Asks for:")
            page.text(criterion.otherwise, indent=4, label="Otherwise:")
        else:
            _draw_bands(page, criterion, engine.kinds)
        page.text(criterion.action, indent=4, label="Do:")
        if not criterion.blocks:
            page.text(criterion.condition, indent=4, label="If it cannot be judged, condition:")
        page.text(str(criterion.basis), indent=4, label="Basis:")
    page.blank()
    page.text(DEFERS)


def _draw_bands(page: Page, criterion: Criterion, kinds: Mapping[str, Kind]) -> None:
    """What is measured, and the edges in each case; cases with the same edges together."""
    kind = kinds.get(criterion.kind)
    title = f"{kind.title} ({kind.id})" if kind else criterion.kind
    page.text(title, indent=4, label="Judges:")
    by_bands: dict[tuple[float | None, float | None], list[str]] = {}
    for case in criterion.cases:
        bands = criterion.bands[case]
        by_bands.setdefault((bands.acceptable, bands.tolerable), []).append(case)
    for (acceptable, tolerable), cases in by_bands.items():
        edges = [
            f"{grade} {_edge(edge, kind)}"
            for grade, edge in (("acceptable", acceptable), ("tolerable", tolerable))
            if edge is not None
        ]
        page.text("; ".join(edges), indent=4, label=f"In {', '.join(cases)}:")
    if criterion.floor != "acceptable":
        page.text(criterion.floor, indent=4, label="Never better than:")


def _edge(edge: float, kind: Kind | None) -> str:
    from review.render import words

    if kind is None:
        return words.number(edge)
    side = "at most" if kind.worse == "higher" else "at least"
    if kind.labels:
        return f"{side} {words.rating(edge, kind.labels)}"
    return f"{side} {words.quantity(edge, kind.unit, kind.display, digits=6)}"
