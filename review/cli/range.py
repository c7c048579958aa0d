"""``benchgate range``: which values of one, two or three numbers are allowed."""

from __future__ import annotations

import csv
import io
import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output
from review.cli.range_text import (
    along_text,
    map_text,
    map_words,
    points_of,
    said,
    shown,
    slices_text,
)

if TYPE_CHECKING:
    from rich.console import Console

    from review.explore.one import Along
    from review.explore.points import Point, Turned
    from review.explore.two import Map
    from review.interface.result import Review
    from review.render.page import Page
    from review.scenario import Scenario


#: Rows of a page's table.
_ROWS = 400


@click.command(name="range")
@options.scenario_file
@click.argument("paths", nargs=-1, metavar="[PATH[=LOW..HIGH]]...")
@click.option(
    "--format",
    "form",
    type=click.Choice(["terminal", "html", "csv", "json", "png", "svg"]),
    default="terminal",
    show_default=True,
    help="What to write.",
)
@click.option("--out", type=click.Path(path_type=Path), help="Write to this file.")
@click.option("--plan-only", is_flag=True, help="Leave the failures out; quicker, and says so.")
@options.rules_files
@options.plugin_files
@click.pass_context
def range_(
    ctx: click.Context,
    file: Path,
    paths: tuple[str, ...],
    form: str,
    out: Path | None,
    plan_only: bool,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Which values of one, two or three numbers of the file are allowed.

    PATH is a number as `explain` and the JSON name it, such as `flows.feed.rate`; without any, the
    numbers of the file are listed. With `=LOW..HIGH`, in the file's unit, it says how far to look.
    `ratio of A to B` turns two flows at constant total, `total of A and B` both at constant ratio.
    Of two numbers it gives a map, of three a table of slices. Every point is a full review with its
    failures. Ctrl-C shows what is known so far.

    Exit status 0: the plan's own point is allowed. 1: it is not. 2: the input is wrong.
    """
    from review.engine.reviewing import Engine
    from review.explore.accuracy import weighed
    from review.explore.batched import over_batch
    from review.explore.one import along
    from review.explore.points import Points, RangeError, apart, plain, turned
    from review.explore.three import slices
    from review.explore.two import over
    from review.scenario import numbers

    if len(paths) > 3:
        raise click.UsageError("one, two or three numbers can be turned at a time")
    image = form in ("png", "svg")
    if image and (out is None or len(paths) > 2):
        raise click.UsageError(f"{form} needs --out, and one number or two")
    engine = Engine(plugin_files=plugin, rules_files=rules)
    text = file.read_text("utf-8")
    scenario, data = engine.loads(text, str(file)), plain(text, str(file), engine.loads)
    if not paths:
        told = {path: scenario.given(path) for path in numbers(scenario)}
        has = "\n".join(f"{path}: {given}" for path, given in told.items() if given)
        raise click.ClickException(f"name one to three numbers of the file:\n{has}")
    try:
        chosen = [turned(scenario, data, path) for path in paths]
        apart(scenario, data, chosen)
    except RangeError as error:
        raise click.ClickException(str(error)) from None

    def reviewed(changed: Scenario) -> Review:
        review = engine.review(changed, upsets=not plan_only)
        return review if plan_only else weighed(engine, changed, review)

    points = Points(text, str(file), chosen, reviewed, engine.loads)
    search: Any = (along, over, slices)[len(chosen) - 1]
    result: Any = None
    if plan_only and len(chosen) == 2:
        result = over_batch(points, engine, str(file), _bar("settings"))
    if result is None:
        result = search(points, seen=_bar())
    if sys.stderr.isatty():
        click.echo("\r" + " " * 60 + "\r", nl=False, err=True)
    write: Any = {"terminal": _page, "html": _html, "csv": _csv, "json": _json}.get(form)
    written = _image(chosen, result, form) if image else write(chosen, result, plan_only)
    if out is None:
        output.write(str(written))
    else:
        output.write_file(out, written, keep=(file, *rules, *plugin))
    ctx.exit(0 if result.plan.allowed else 1)


def _bar(what: str = "reviews") -> Callable[[int, int], None]:
    """A line on the terminal with what is done and the time left; nothing in a pipe."""
    if not sys.stderr.isatty():
        return lambda done, expected: None
    began = time.monotonic()

    def show(done: int, expected: int) -> None:
        left = (time.monotonic() - began) / done * max(expected - done, 0)
        line = f"\r{done} of about {max(done, expected)} {what}, {left:.0f} s left "
        click.echo(line, nl=False, err=True)

    return show


def _page(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    from review.cautions import IN_BRIEF
    from review.explore.one import Along
    from review.render.page import Page

    def draw(console: Console) -> None:
        page = Page(console)
        if isinstance(result, Along):
            along_text(page, chosen[0], result)
        else:
            lines = map_text(chosen, result) if len(chosen) == 2 else slices_text(chosen, result)
            for line in lines:
                console.print(line, markup=False, highlight=False)
        page.blank()
        _how(page, result, plan_only)
        page.blank()
        for line in IN_BRIEF:
            page.text(line)

    return output.rendered(draw)


def _how(page: Page, result: Any, plan_only: bool) -> None:
    if not result.whole:
        page.text("Broken off: only what is shown was reviewed.")
    how = "without failures: not what check would say" if plan_only else "with every failure"
    maps = [part for _, part in result.slices] if hasattr(result, "slices") else [result]
    if hasattr(result, "points"):
        page.text(f"{len(result.points)} values were reviewed, each as the changed file, {how}. "
                  "Between two neighbours that agree nothing was.")  # fmt: skip
        return
    shown = {p.values for part in maps for row in part.rows for p in row if p is not None}
    taken = sum(len(part.across) * len(part.up) for part in maps) - len(shown)
    reviewed = max(part.reviewed for part in maps)
    if batch := sum(part.batch for part in maps):
        page.text(
            f"{batch} settings were looked at as runs of one batch, {how}. {reviewed} of the "
            "corners, the plan and the boundary were also reviewed as changed files; they agree."
        )
    else:
        page.text(f"{reviewed} settings were reviewed, each as the changed file, {how}.")
    if taken > 0:
        parts = min(part.coarse for part in maps) - 1
        page.text(f"{taken} more lie between four that agree and take their verdict unreviewed: "
                  f"what is narrower than 1/{parts} of a range may be missed.")  # fmt: skip


def _html(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    """The same as a page, with the map as a picture."""
    from review.cautions import CAUTIONS
    from review.explore.one import Along
    from review.render.html import environment
    from review.render.page import Blocks

    blocks, points, picture = Blocks(), points_of(result), None
    if isinstance(result, Along):
        along_text(blocks, chosen[0], result)
    else:
        lines = map_words(chosen, result) if len(chosen) == 2 else slices_text(chosen, result)
        for line in lines:
            blocks.text(line)
    _how(blocks, result, plan_only)
    if len(points) > _ROWS:
        blocks.text(f"The table has {_ROWS} of {len(points)} settings; CSV and JSON have all.")
    try:
        from review.render.pictures import settings

        plan = result.plan.verdict
        if isinstance(result, Along):
            picture = settings.along(chosen[0], _bars(result), plan)
        elif len(chosen) == 2:
            one, other = chosen
            picture = settings.over(one, other, _spots(result), plan, result.rectangle)
    except ModuleNotFoundError as error:
        if error.name != "matplotlib":
            raise
    return environment().get_template("range.html.j2").render(
        title=f"Settings of {' and '.join(t.path for t in chosen)}",
        picture=picture,
        blocks=blocks.blocks,
        heads=(*(t.path for t in chosen), "Verdict", "Against"),
        rows=[
            (*(t.show(v) for t, v in zip(chosen, point.values, strict=True)), point.verdict,
             "; ".join(dict.fromkeys(said(b) for b in point.blockers)))
            for point in points[:_ROWS]
        ],
        cautions=CAUTIONS,
    )  # fmt: skip


def _image(chosen: list[Turned], result: Any, form: str) -> bytes:
    """The picture alone, as a file."""
    from review.cautions import IN_BRIEF
    from review.explore.one import Along

    try:
        from review.render.pictures import settings
    except ModuleNotFoundError as error:
        if error.name != "matplotlib":
            raise
        raise click.ClickException(
            f"{form} needs matplotlib: pip install 'benchgate[page]'"
        ) from None
    says = f"The plan {result.plan.verdict}. {' '.join(IN_BRIEF)}"
    if isinstance(result, Along):
        bars = _bars(result)
        return settings.image(form, 2.6, lambda f: settings.draw_along(f, chosen[0], bars), says)
    one, other = chosen
    spots = _spots(result)
    return settings.image(
        form, 5.2, lambda f: settings.draw_over(f, one, other, spots, result.rectangle), says
    )


def _bars(result: Along) -> list[tuple[float, float, str]]:
    return [(i.low.value, i.high.value, i.verdict) for i in result.intervals]


def _spots(result: Map) -> list[tuple[float, float, str, bool]]:
    result = shown(result)
    return [
        (x, y, point.verdict, point.values == (x, y))
        for y, row in zip(result.up, result.rows, strict=True)
        for x, point in zip(result.across, row, strict=True)
        if point is not None
    ]


def _csv(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*(f"{t.path} ({t.unit})" for t in chosen), "verdict", "against"])
    for point in points_of(result):
        against = "; ".join(said(blocker) for blocker in point.blockers)
        writer.writerow([*(f"{value:.9g}" for value in point.values), point.verdict, against])
    return text.getvalue()


def _json(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    from review.cautions import CAUTIONS

    def plain(point: Point) -> dict[str, Any]:
        against = [
            {"criterion": b.criterion, "at": b.at, "of": b.of, "case": b.case, "trial": b.trial,
             "step": b.step, "grade": b.grade}
            for b in point.blockers
        ]  # fmt: skip
        return {"values": list(point.values), "verdict": point.verdict, "against": against,
                "not_as_wanted": list(point.unmet)}  # fmt: skip

    done = {
        "turned": [
            {"path": t.path, "unit": t.unit, "plan": t.value, "low": t.low, "high": t.high}
            for t in chosen
        ],
        "plan": plain(result.plan),
        "points": [plain(point) for point in points_of(result)],
        "rectangle": getattr(result, "rectangle", None),
        "edges": [[plain(one), plain(other)] for one, other in getattr(result, "edges", ())],
        "whole": result.whole,
        "failures": not plan_only,
        "cautions": list(CAUTIONS),
    }
    return json.dumps(done, indent=1, ensure_ascii=False)
