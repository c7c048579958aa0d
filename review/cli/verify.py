"""``benchgate verify``: is a record as it was signed, and would a review still say the same?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.register.verifying import Point, Verified, VerifiedRegister
    from review.render.page import Page

FAILED = 1
_FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)


@click.command()
@click.argument("record", metavar="RECORD|REGISTER", type=click.Path(exists=True, path_type=Path))
@click.option(
    "--scenario", metavar="FILE", type=_FILE, help="Is this still the scenario that was signed?"
)
@click.option(
    "--allowed-signers",
    metavar="FILE",
    type=_FILE,
    help="Whose SSH key is whose, as ssh-keygen reads it; without it, signatures are not checked "
    "for who made them.",
)
@options.rules_files
@options.plugin_files
@click.pass_context
def verify(
    ctx: click.Context,
    record: Path,
    scenario: Path | None,
    allowed_signers: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Does a record, or every record of a register, still hold?

    Looks at its bytes, its place in the register, its signatures, its time, and whether a review
    with today's rules, data and code says the same. Give the rules and plugins it was signed with.

    Exit status 0: all of it holds; in a register, a record that has expired costs nothing. 1: it
    is stale or broken. 2: the input is wrong. 3: the tool itself failed.
    """
    from review.engine.reviewing import Engine
    from review.register import clock
    from review.register.verifying import Verifier, given

    engine = Engine(plugin_files=plugin, rules_files=rules)
    compared = None if scenario is None else given(scenario, engine)
    verifier = Verifier(engine, clock.now(), allowed_signers)
    if record.is_dir():
        found = verifier.register(record, compared)
        output.write(output.rendered(lambda console: _draw_register(console, found)))
        ctx.exit(0 if found.holds else FAILED)
    one = verifier.record(record, compared)
    output.write(output.rendered(lambda console: _draw_record(console, one, scenario)))
    ctx.exit(0 if one.holds else FAILED)


def _draw_record(console: Console, found: Verified, scenario: Path | None) -> None:
    from review.cli.labels import labelled
    from review.render.page import Page

    page = Page(console)
    title = f" of {found.record.title}" if found.record else ""
    labelled(page, "Record", f"{found.name}{title}", style="bold")
    _draw_signed(page, found)
    page.blank()
    page.text(_result(found), label="Result:", style="bold")
    page.blank()
    _draw_points(page, found.points)
    if found.record is not None and scenario is None:
        page.text(
            "not compared: add --scenario with the file that is used today", label="Scenario:"
        )
    _draw_end(page, [found])


def _draw_register(console: Console, found: VerifiedRegister) -> None:
    from review.cli.labels import labelled
    from review.render.page import Page
    from review.render.words import listed

    page = Page(console)
    page.text(f"Register {found.name}", style="bold")
    page.blank()
    result = "all of it holds" if found.holds else "not all of it holds"
    expired = sum(each.expired for each in found.records)
    count = f"; {expired} expired" if expired else ""
    page.text(f"{result}{count}", label="Result:", style="bold")
    failing = [each.name for each in found.records if not each.sound]
    if failing:
        page.text(listed(failing), label="Do not hold:" if failing[1:] else "Does not hold:")
    page.blank()
    _draw_points(page, found.points)
    for each in found.records:
        page.blank()
        labelled(page, f"{each.name}:", each.record.title if each.record else "", style="bold")
        _draw_signed(page, each)
        last = f"; its last day is {each.record.valid_until}" if each.record and each.holds else ""
        page.text(f"{_result(each)}{last}", label="Result:")
        _draw_points(page, [p for p in each.points if _told(p, each)])
    _draw_end(page, list(found.records))


def _told(point: Point, of: Verified) -> bool:
    """In a register what fails is told, what a scenario was compared with, and milder rules."""
    from review.register.milder import MILDER

    why = not of.sound and point.subject == "Changed since"
    return not point.holds or point.subject in ("Scenario", MILDER) or why


def _draw_signed(page: Page, found: Verified) -> None:
    from review.cli.labels import labelled
    from review.register.milder import plugins
    from review.render.words import counted

    record = found.record
    if record is None:
        return
    page.text(record.verdict, label="Verdict when signed:")
    labelled(
        page,
        "Signed:",
        f"{record.signed_at:%Y-%m-%d %H:%M} UTC by {record.preparer} (prepared it) and "
        f"{record.reviewer} (compared it)",
    )
    if answers := len(record.data["answers"]):
        page.text(f"{counted(answers, 'finding')}, answered for", label="Could not be judged:")
    if used := plugins(record.data["tool"]):
        labelled(page, "Plugins that are not built in:", used)


def _result(found: Verified) -> str:
    """In a few words, and never more than was looked at."""
    from review.register.milder import MILDER
    from review.render.words import listed

    if found.broken:
        return "broken: it is not as it was signed"
    if found.holds:
        loosened = any(point.subject == MILDER for point in found.points)
        by = " by rules that were loosened" if loosened else ""
        return f"it is as it was signed, and a review says the same today{by}"
    if found.sound:
        return "expired"
    what = listed(dict.fromkeys(f"'{point.subject}'" for point in found.failing))
    return f"it does not hold; what stands under {what} says why"


def _draw_points(page: Page, points: tuple[Point, ...] | list[Point]) -> None:
    for point in points:
        head, *rest = point.lines
        page.text(head, label=f"{point.subject}:")
        for line in rest:
            page.text(line, indent=4, mark="  -")


def _draw_end(page: Page, found: list[Verified]) -> None:
    """What none of this can show, and whose word comes first."""
    from review.cautions import DEFERS
    from review.register.verifying import SIGNED, UNSIGNED

    records = [each.record for each in found if each.record is not None]
    page.heading("What this cannot show")
    if not records or not all(record.keys for record in records):
        page.text(UNSIGNED, indent=4, mark="  -")
    if any(record.keys for record in records):
        page.text(SIGNED, indent=4, mark="  -")
    page.text(
        "Whether the set-up on the bench is as the scenario says, and how often it was run.",
        indent=4,
        mark="  -",
    )
    page.blank()
    page.text(DEFERS)
