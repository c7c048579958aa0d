"""``benchgate substance`` and ``benchgate material``: every figure with its source."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from review.reference.data import Curve, Datum, Material, Substance
    from review.reference.finding import Reference
    from review.reference.mixtures import Mixture
    from review.render.page import Page

_KELVIN = 273.15


@click.command()
@click.argument("name")
@options.plugin_files
def substance(name: str, plugin: tuple[Path, ...]) -> None:
    """Print the sheet of a substance: every figure with its source, and what is not known.

    NAME is a name, a synonym, a CAS number or a formula, or that of a mixture.
    """
    from review.engine.reviewing import Engine
    from review.reference.data import UnknownName

    reference = Engine(plugin_files=plugin).reference
    try:
        found = reference.substance(name)
    except UnknownName as unknown:
        if unknown.why:
            raise click.ClickException(unknown.why) from None
        with suppress(LookupError, ValueError):
            made, share = reference.mixture(name)
            output.write(output.rendered(lambda page: _draw_mixture(page, made, share, reference)))
            return
        try:
            found = reference.look_up(name)
        except UnknownName:
            raise click.ClickException(_unknown("substance", unknown, reference)) from None
    output.write(output.rendered(lambda console: _draw_substance(console, name, found)))


@click.command()
@click.argument("name")
@options.plugin_files
def material(name: str, plugin: tuple[Path, ...]) -> None:
    """Print the sheet of a material: every figure and every rating with its source."""
    from review.engine.reviewing import Engine
    from review.reference.data import UnknownName

    reference = Engine(plugin_files=plugin).reference
    try:
        found = reference.material(name)
    except UnknownName as unknown:
        raise click.ClickException(_unknown("material", unknown, reference)) from None
    output.write(output.rendered(lambda console: _draw_material(console, found)))


def _unknown(kind: str, unknown: LookupError, reference: Reference) -> str:
    near = [reference.described(each) if kind == "substance" else each
            for each in getattr(unknown, "nearest", ())]  # fmt: skip
    hint = f"; the nearest names: {'; '.join(near)}" if near else ""
    return f'no {kind} "{getattr(unknown, "text", "")}" is known{hint}'


def _draw_substance(console: Console, asked: str, found: Substance) -> None:
    from review.cautions import DEFERS
    from review.reference.properties import SUBSTANCE_CURVES, SUBSTANCE_FLAGS, SUBSTANCE_PROPERTIES
    from review.render.page import Page

    page = Page(console)
    page.heading(f"{found.name} ({found.formula}, CAS {found.cas})")
    if found.looked_up:
        page.text(
            f'No file describes "{asked}": it was looked up in the library chemicals. What that '
            "lacks is not known, which is no sign of harmlessness."
        )
    _list(page, "Also called", found.synonyms)
    words = {True: "yes", False: "no", None: "not known"}
    for name in SUBSTANCE_FLAGS:
        page.text(words[getattr(found, name)], indent=4, label=f"{_said(name)}:")
    page.text(found.phase_at_20C, indent=4, label="at 20 degC:")
    page.text(f"{found.skin_corrosion} – {found.skin_corrosion_source}", indent=4,
              label="skin corrosion:")  # fmt: skip
    _words(page, "hazard statements", found.hazard_statements, found.hazard_statements_source)
    _words(page, "classes", found.classes, found.classes_source)
    _figures(page, found.properties, {n: p.meaning for n, p in SUBSTANCE_PROPERTIES.items()})
    for name, (_, meaning) in SUBSTANCE_CURVES.items():
        page.text(_curve(found.curve(name)), indent=4, label=f"{meaning}:")
    page.blank()
    page.text(DEFERS)


def _draw_mixture(
    console: Console, found: Mixture, strength: float | None, reference: Reference
) -> None:
    from review.cautions import DEFERS
    from review.render.page import Page

    page = Page(console)
    page.heading(f"{found.name} (mixture)")
    _list(page, "Also called", found.synonyms)
    said = "its strength" if strength is None else f"{100 * strength:g} %"
    parts = [
        f"{reference.described(n)}: {said if share is None else f'{100 * share:g} %'}"
        for n, share in found.shares.items()
    ]
    rest = [f"{reference.described(found.rest)}: the rest"] if found.rest else []
    page.text(f"{'; '.join(parts + rest)} – {found.source} ({found.how})", indent=4,
              label=f"made of, by {found.basis}:")  # fmt: skip
    if found.needs_strength:
        page.text(f"{100 * found.weakest:g} to {100 * found.strongest:g} %", indent=4,
                  label="strengths:")  # fmt: skip
    page.blank()
    page.text(DEFERS)


def _draw_material(console: Console, found: Material) -> None:
    from review.cautions import DEFERS
    from review.reference.properties import MATERIAL_PROPERTIES
    from review.render.page import Page

    page = Page(console)
    page.heading(f"{found.name} ({found.kind})")
    _list(page, "Also called", found.synonyms)
    _words(page, "classes", found.classes, found.classes_source)
    _figures(page, found.properties, {n: p.meaning for n, p in MATERIAL_PROPERTIES.items()})
    by_class = ("Ratings by class, of what has none of its own", found.class_ratings)
    for title, ratings in (("Ratings", found.ratings), by_class):
        if ratings:
            page.heading(title)
        for name, rating in sorted(ratings.items()):
            limit = "" if rating.temperature_limit is None else _degc(rating.temperature_limit)
            steps = [(limit, rating.word)]
            steps += [("" if t == float("inf") else _degc(t), word) for t, word in rating.hotter]
            told = ", ".join(f"{word} up to {t}" if t else word for t, word in steps)
            if rating.strongest < 1:
                told += f", at most {100 * rating.strongest:g} mass %"
                told += "".join(f", to {100 * w:g} % {word}" for w, word in rating.stronger)
            page.text(f"{told} – {rating.source} ({rating.how})", indent=4, label=f"{name}:")
    page.blank()
    page.text("What is not listed is not known, and blocks where it is touched.")
    page.text(DEFERS)


def _figures(page: Page, data: Mapping[str, Datum], meanings: Mapping[str, str]) -> None:
    for name, meaning in meanings.items():
        page.text(_figure(name, data[name]), indent=4, label=f"{meaning}:")


def _figure(name: str, datum: Datum) -> str:
    from review.reference.writing import bench

    source = f" – {datum.source} ({datum.how})" if datum.source else ""
    if datum.value is None:
        return ("does not apply" if datum.state == "none" else "not known") + source
    if datum.stated:
        parts = []
        for point, stated in datum.stated:
            number, unit = bench(datum.unit, stated)
            where = _degc(point) if datum.unit == "Pa" else f"{point / 60:g} min"
            parts.append(f"{number:g} {unit} at {where}")
        return ", ".join(parts) + source
    number, unit = (datum.value - _KELVIN, "degC") if datum.unit == "K" else bench(
        datum.unit, datum.value)  # fmt: skip
    if name == "oxygen_demand":
        number, unit = datum.value, "mol"
    told = f"{number:.5g}" + ("" if unit == "1" else f" {unit}")
    if datum.spread is not None:
        ends = [x - _KELVIN if datum.unit == "K" else bench(datum.unit, x)[0] for x in datum.spread]
        units = {unit if datum.unit == "K" else bench(datum.unit, x)[1] for x in datum.spread}
        if units == {unit}:
            told += f" (published: {ends[0]:.5g} to {ends[1]:.5g})"
    return told + source


def _curve(curve: Curve) -> str:
    if curve.state != "known":
        state = "does not apply" if curve.state == "none" else "not known"
        return state + (f" – {curve.source} ({curve.how})" if curve.source else "")
    return f"{curve.form}, {_degc(curve.low)} to {_degc(curve.high)} – {curve.source} ({curve.how})"


def _degc(kelvin: float) -> str:
    return f"{kelvin - _KELVIN:.4g} degC"


def _said(name: str) -> str:
    return name.replace("_", " ")


def _words(page: Page, label: str, words: tuple[str, ...] | None, source: str) -> None:
    told = "not known" if words is None else f"{', '.join(words) or 'none'} – {source}"
    page.text(told, indent=4, label=f"{label}:")


def _list(page: Page, label: str, words: tuple[str, ...]) -> None:
    if words:
        page.text(", ".join(words), indent=4, label=f"{label}:")
