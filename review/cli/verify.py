"""``benchgate verify``: is a record as it was signed, and would a review still say the same?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.engine.reviewing import Engine
    from review.register.verified import Point, Verified, VerifiedRegister
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
@click.option(
    "--attached",
    metavar="FILE",
    multiple=True,
    type=_FILE,
    help="Is this still a file that was attached? May be given more than once.",
)
@options.one_person
@options.rules_files
@options.plugin_files
@click.pass_context
def verify(
    ctx: click.Context,
    record: Path,
    scenario: Path | None,
    allowed_signers: Path | None,
    attached: tuple[Path, ...],
    one_person: bool,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Is a record, or every record of a register, intact, and may it still be used?

    Intact: its bytes, its place in the register, its signatures, by its own rules. May be used:
    two people signed, nobody withdrew it, time and runs are left, and a review by today's rules,
    data and code asks for no more than was confirmed. What is milder today changes nothing.

    Exit status 0: both; in a register, a record that is not in use costs nothing (expired,
    withdrawn, used up, awaiting a second person). 1: one of the two is no. 2: the input is wrong.
    3: the tool itself failed.
    """
    from review.engine.reviewing import Engine
    from review.register import clock
    from review.register.given import given
    from review.register.verifying import Verifier

    engine = Engine(plugin_files=plugin, rules_files=rules)
    compared = None if scenario is None else given(scenario, engine)
    verifier = Verifier(
        engine, clock.now(), allowed_signers, one_person=one_person, attached=attached
    )
    if record.is_dir():
        found = verifier.register(record, compared)
        output.write(output.rendered(lambda console: _draw_register(console, found, engine)))
        ctx.exit(0 if found.holds else FAILED)
    one = verifier.record(record, compared)
    output.write(output.rendered(lambda console: _draw_record(console, one, scenario, engine)))
    ctx.exit(0 if one.holds else FAILED)


def _draw_record(console: Console, found: Verified, scenario: Path | None, engine: Engine) -> None:
    from review.cli.labels import labelled
    from review.render.page import Page
    from review.render.words import rules_used

    page = Page(console)
    title = f" of {found.record.title}" if found.record else ""
    labelled(page, "Record", f"{found.name}{title}", style="bold")
    _draw_signed(page, found)
    page.blank()
    page.text(_intact(found), label="Intact:", style="bold")
    page.text(_usable(found), label="May be used:", style="bold")
    page.text(rules_used(engine.ruleset.layers), label="Rules today:")
    page.blank()
    _draw_points(page, found.points)
    if found.record is not None and scenario is None:
        page.text(
            "not compared: add --scenario with the file that is used today", label="Scenario:"
        )
    _draw_end(page, [found])


def _draw_register(console: Console, found: VerifiedRegister, engine: Engine) -> None:
    from review.cli.labels import labelled
    from review.render.page import Page
    from review.render.words import listed, rules_used

    page = Page(console)
    page.text(f"Register {found.name}", style="bold")
    page.blank()
    result = "all of it holds" if found.holds else "not all of it holds"
    idle = [_not_in_use(each) for each in found.records if each.sound and not each.holds]
    counts = "".join(f"; {idle.count(what)} {what}" for what in dict.fromkeys(idle))
    page.text(f"{result}{counts}", label="Result:", style="bold")
    page.text(rules_used(engine.ruleset.layers), label="Rules today:")
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
        page.text(_intact(each), label="Intact:")
        page.text(f"{_usable(each)}{last}", label="May be used:")
        _draw_points(page, [p for p in each.points if _told(p, each)])
    _draw_end(page, list(found.records))


def _told(point: Point, of: Verified) -> bool:
    """In a register what fails is told, what a scenario was compared with, and milder rules."""
    from review.register.milder import MILDER

    why = not of.sound and point.subject == "Changed since"
    return not point.holds or point.subject in ("Scenario", MILDER, "Second person") or why


def _draw_signed(page: Page, found: Verified) -> None:
    from review.cli.labels import labelled
    from review.register.milder import plugins
    from review.register.use import signers
    from review.render.words import counted

    record = found.record
    if record is None:
        return
    page.text(record.verdict, label="Verdict when signed:")
    labelled(
        page,
        "Signed:",
        f"{record.signed_at:%Y-%m-%d %H:%M} UTC by {signers(record, found.standing)}",
    )
    if answers := len(record.data["answers"]):
        page.text(f"{counted(answers, 'finding')}, answered for", label="Could not be judged:")
    if used := plugins(record.data["tool"]):
        labelled(page, "Plugins that are not built in:", used)


def _intact(found: Verified) -> str:
    """The first answer, in a few words."""
    if found.broken:
        return "no, it is broken: it is not as it was signed"
    if not found.intact:
        return f"no; what stands under {_named(found, intact=True)} says why"
    return "yes, it is as it was signed"


def _usable(found: Verified) -> str:
    """The second answer, in a few words, and never more than was looked at."""
    from review.register.milder import MILDER
    from review.register.use import ONE_PERSON

    if found.holds:
        loosened = any(point.subject == MILDER for point in found.points)
        by = " by rules that were loosened" if loosened else ""
        alone = found.record is not None and found.record.second == "nobody"
        return f"yes, a review asks for no more today{by}" + (f"; {ONE_PERSON}" if alone else "")
    if not found.intact:
        return "no"
    if found.sound:
        return f"no: {_not_in_use(found)}"
    return f"no; what stands under {_named(found, intact=False)} says why"


def _not_in_use(found: Verified) -> str:
    """Why nobody may use a record with which nothing is wrong."""
    said = {
        "Withdrawn": "withdrawn", "Time": "expired", "Runs": "used up",
        "Second person": "awaiting a second person", "In use": "a copy by itself cannot tell",
    }  # fmt: skip
    there = {point.subject for point in found.failing}
    return next((words for subject, words in said.items() if subject in there), "not in use")


def _named(found: Verified, *, intact: bool) -> str:
    from review.register.verified import OF_INTACT
    from review.render.words import listed

    some = [p.subject for p in found.failing if not p.idle and (p.subject in OF_INTACT) is intact]
    return listed(dict.fromkeys(f"'{subject}'" for subject in some))


def _draw_points(page: Page, points: tuple[Point, ...] | list[Point]) -> None:
    for point in points:
        head, *rest = point.lines
        page.text(head, label=f"{point.subject}:")
        for line in rest:
            page.text(line, indent=4, mark="  -")


def _draw_end(page: Page, found: list[Verified]) -> None:
    """What none of this can show, and whose word comes first."""
    from review.cautions import DEFERS
    from review.register.wording import SIGNED, UNSIGNED

    records = [each.record for each in found if each.record is not None]
    page.heading("What this cannot show")
    if not records or not all(record.keys for record in records):
        page.text(UNSIGNED, indent=4, mark="  -")
    if any(record.keys for record in records):
        page.text(SIGNED, indent=4, mark="  -")
    page.text(
        "Whether the set-up on the bench is as the scenario says, and runs that nobody noted.",
        indent=4,
        mark="  -",
    )
    page.blank()
    page.text(DEFERS)
