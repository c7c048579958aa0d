"""``benchgate range``: which values of one or two numbers are allowed."""

from __future__ import annotations

import csv
import io
import json
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.explore.one import Along, End, Interval
    from review.explore.points import Blocker, Point, Turned
    from review.explore.two import Map
    from review.interface.result import Review
    from review.render.page import Page
    from review.scenario import Scenario

#: What a review calls the settings as stated, before any step.
STATED_PLAN = "stated settings"
#: How a verdict looks on the map; readable without colour.
SIGNS = {
    "may proceed": ".",
    "may proceed with conditions": "o",
    "cannot be judged": "?",
    "must not proceed": "#",
    "wrong input": "x",
}


@click.command(name="range")
@options.scenario_file
@click.argument("paths", nargs=-1, required=True, metavar="PATH[=LOW..HIGH]...")
@click.option(
    "--format",
    "form",
    type=click.Choice(["terminal", "html", "csv", "json"]),
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
    """Which values of one or two numbers of the file are allowed.

    PATH is a number as `explain` and the JSON name it, such as `flows.feed.rate`; with
    `=LOW..HIGH`, in the file's unit, it says how far to look. `ratio of A to B` turns two flows at
    constant total, `total of A and B` both at constant ratio. Every point is a full review with
    its failures. Ctrl-C shows what is known so far.

    Exit status 0: the plan's own point is allowed. 1: it is not. 2: the input is wrong.
    """
    from review.engine.reviewing import Engine
    from review.explore.accuracy import weighed
    from review.explore.one import along
    from review.explore.points import Points, RangeError, plain, turned
    from review.explore.two import over
    from review.scenario import loads

    if len(paths) > 2:
        raise click.UsageError("one or two numbers can be turned at a time")
    engine = Engine(plugin_files=plugin, rules_files=rules)
    text = file.read_text("utf-8")
    scenario, data = loads(text, str(file)), plain(text, str(file))
    try:
        chosen = [turned(scenario, data, path) for path in paths]
    except RangeError as error:
        raise click.ClickException(str(error)) from None

    def reviewed(changed: Scenario) -> Review:
        review = engine.review(changed, upsets=not plan_only)
        return review if plan_only else weighed(engine, changed, review)

    points = Points(text, str(file), chosen, reviewed)
    result: Along | Map
    result = along(points, seen=_bar()) if len(chosen) == 1 else over(points, seen=_bar())
    if sys.stderr.isatty():
        click.echo("\r" + " " * 60 + "\r", nl=False, err=True)
    write = {"terminal": _page, "html": _html, "csv": _csv, "json": _json}[form]
    written = write(chosen, result, plan_only)
    if out is None:
        output.write(written)
    else:
        output.write_file(out, written, keep=(file, *rules, *plugin))
    ctx.exit(0 if result.plan.allowed else 1)


def _bar() -> Callable[[int, int], None]:
    """A line on the terminal with the reviews done and the time left; nothing in a pipe."""
    if not sys.stderr.isatty():
        return lambda done, expected: None
    began = time.monotonic()

    def show(done: int, expected: int) -> None:
        left = (time.monotonic() - began) / done * max(expected - done, 0)
        line = f"\r{done} of about {max(done, expected)} reviews, {left:.0f} s left "
        click.echo(line, nl=False, err=True)

    return show


def _page(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    from review.cautions import IN_BRIEF
    from review.explore.one import Along
    from review.render.page import Page

    def draw(console: Console) -> None:
        page = Page(console)
        if isinstance(result, Along):
            _along(page, chosen[0], result)
        else:
            for line in _map(chosen, result):
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
    told = "without failures: not what check would say" if plan_only else "with every failure"
    page.text(f"Each value is a review of the changed file, {told}.")


def _html(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    """The same as a page, with the map as a picture."""
    from review.cautions import CAUTIONS
    from review.explore.one import Along
    from review.render.html import environment
    from review.render.page import Blocks

    blocks, points, picture = Blocks(), _points(result), None
    if isinstance(result, Along):
        _along(blocks, chosen[0], result)
    else:
        for line in _said_of_map(chosen, result):
            blocks.text(line)
    _how(blocks, result, plan_only)
    try:
        from review.render.pictures import settings

        plan = result.plan.verdict
        if isinstance(result, Along):
            parts = [(i.low.value, i.high.value, i.verdict) for i in result.intervals]
            picture = settings.along(chosen[0], parts, plan)
        else:
            spots = [
                (x, y, point.verdict, point.values == (x, y))
                for y, row in zip(result.up, result.rows, strict=True)
                for x, point in zip(result.across, row, strict=True)
                if point is not None
            ]
            picture = settings.over(chosen[0], chosen[1], spots, plan, result.rectangle)
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
             "; ".join(dict.fromkeys(_said(b) for b in point.blockers)))
            for point in points
        ],
        cautions=CAUTIONS,
    )  # fmt: skip


def _along(page: Page, turned: Turned, result: Along) -> None:
    plan = result.plan
    page.text(f"{turned.path}: now {turned.show(turned.value)}, {plan.verdict}.")
    page.text(f"Looked at {turned.show(turned.low)} to {turned.show(turned.high)}.")
    page.blank()
    several = result.intervals
    for n, interval in enumerate(several):
        before = several[n - 1] if n else None
        after = several[n + 1] if n + 1 < len(several) else None
        low, high = interval.low.value, interval.high.value
        said = (
            turned.safely(low, before.high.value) if before else turned.show(low),
            turned.safely(high, after.low.value) if after else turned.show(high),
        )
        page.text(interval.verdict, label=f"{said[0]} to {said[1]}:")
        if interval.allowed:
            _end(page, "below", interval.low)
            _end(page, "above", interval.high)
    for reach in _reaches(result):
        low, high = (reach[0].low.value, reach[-1].high.value)
        if low <= turned.value <= high:
            away = [
                f"{turned.show(gap)} {way}"
                for gap, way, open_ in (
                    (turned.value - low, "down", low <= turned.low),
                    (high - turned.value, "up", high >= turned.high),
                )
                if not open_
            ]
            if away:
                page.text(f"To where it is not allowed: {' and '.join(away)}.")
    for blocker in result.uncured:
        page.text(f"No value of this cures: {_said(blocker)}.")


def _reaches(result: Along) -> list[list[Interval]]:
    """Allowed intervals that touch, together."""
    found: list[list[Interval]] = [[]]
    for interval in result.intervals:
        if interval.allowed:
            found[-1].append(interval)
        else:
            found.append([])
    return [reach for reach in found if reach]


def _end(page: Page, side: str, end: End) -> None:
    told = list(dict.fromkeys(_said(blocker) for blocker in end.against))
    for text in told[:3]:
        page.text(f"{text}.", indent=4, label=f"{side}:")
    if len(told) > 3:
        page.text(f"and {len(told) - 3} more.", indent=4, label=f"{side}:")


def _said(blocker: Blocker) -> str:
    where = f" at {blocker.at}" if blocker.at else ""
    of = f" ({blocker.of})" if blocker.of else ""
    when = f", {blocker.when}" if blocker.when else ""
    step = f', step "{blocker.step}"' if blocker.step not in ("", STATED_PLAN) else ""
    return f"{blocker.title}{of}{where}{when}{step}"


def _map(chosen: list[Turned], result: Map) -> Iterable[str]:
    first, second = chosen
    yield f"Across: {first.path}, {first.show(first.low)} to {first.show(first.high)}."
    yield f"Up: {second.path}, {second.show(second.low)} to {second.show(second.high)}."
    yield ""
    x, y = first.value, second.value
    for j in reversed(range(len(result.up))):
        signs = []
        for i in range(len(result.across)):
            point = result.rows[j][i]
            signs.append(" " if point is None else SIGNS[point.verdict])
        if abs(result.up[j] - y) <= (result.up[1] - result.up[0]) / 2:
            nearest = min(range(len(result.across)), key=lambda i: abs(result.across[i] - x))
            signs[nearest] = "P"
        label = second.show(result.up[j]) if j % 4 == 0 else ""
        yield f"{label:>16} {''.join(signs)}"
    yield f"{'':>16} {first.show(first.low)} … {first.show(first.high)}"
    yield ""
    yield "P plan  " + "  ".join(f"{sign} {verdict}" for verdict, sign in SIGNS.items())
    yield from _said_of_map(chosen, result)


def _said_of_map(chosen: list[Turned], result: Map) -> Iterable[str]:
    first, second = chosen
    yield (
        f"The plan: {first.show(first.value)}, {second.show(second.value)}: {result.plan.verdict}."
    )
    if result.rectangle is not None:
        left, right, low, high = result.rectangle
        yield (
            f"Allowed together at every point looked at: {first.show(left)} to "
            f"{first.show(right)} and {second.show(low)} to {second.show(high)}."
        )


def _points(result: Any) -> list[Point]:
    from review.explore.one import Along

    if isinstance(result, Along):
        return list(result.points)
    # Where nothing was reviewed stands the point whose verdict it takes.
    found = (point for row in result.rows for point in row if point is not None)
    return list({point.values: point for point in found}.values())


def _csv(chosen: list[Turned], result: Any, plan_only: bool) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([*(f"{t.path} ({t.unit})" for t in chosen), "verdict", "against"])
    for point in _points(result):
        against = "; ".join(_said(blocker) for blocker in point.blockers)
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
        return {"values": list(point.values), "verdict": point.verdict, "against": against}

    done = {
        "turned": [
            {"path": t.path, "unit": t.unit, "plan": t.value, "low": t.low, "high": t.high}
            for t in chosen
        ],
        "plan": plain(result.plan),
        "points": [plain(point) for point in _points(result)],
        "rectangle": getattr(result, "rectangle", None),
        "whole": result.whole,
        "failures": not plan_only,
        "cautions": list(CAUTIONS),
    }
    return json.dumps(done, indent=1, ensure_ascii=False)
