"""``benchgate countersign``: the second person signs later, on another machine perhaps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output
from review.cli.telling import command, complain

if TYPE_CHECKING:
    from review.engine.reviewing import Engine
    from review.register.entries import Countersignature
    from review.register.record import Record
    from review.register.verified import Verified

REFUSED = 1
_FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)


@click.command()
@click.argument("record", metavar="RECORD", type=_FILE)
@click.option("--reviewer", metavar="NAME", help="The second person, who countersigns.")
@click.option(
    "--compared",
    metavar="TEXT",
    help="What the second person compared: the bench with the file, the file with the review.",
)
@click.option(
    "--reviewer-key",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="SSH key with which the second person signs.",
)
@click.option(
    "--two-people", is_flag=True, help="Two names that may be one person's are of two people."
)
@click.option(
    "--take",
    metavar="FILE",
    type=_FILE,
    help="Enter a countersignature that was made on a copy: the file that was written there, or "
    "the entry of a copied register.",
)
@options.rules_files
@options.plugin_files
@click.pass_context
def countersign(
    ctx: click.Context,
    record: Path,
    reviewer: str | None,
    compared: str | None,
    reviewer_key: Path | None,
    two_people: bool,
    take: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Sign a record as the second person, after the preparer has signed it.

    RECORD stands in a register, and the countersignature is entered there; or it is a copy by
    itself, and a file is written beside it for whoever keeps the register (--take). The review is
    shown first, as today's rules have it; what must not be used is not countersigned.

    Exit status 0: countersigned. 1: refused, and nothing was written. 2: the input is wrong. 3:
    the tool itself failed.
    """
    from review.engine.reviewing import Engine
    from review.register import clock
    from review.register.chain import RefusedEntry
    from review.register.verifying import Verifier

    engine = Engine(plugin_files=plugin, rules_files=rules)
    now = clock.now()
    found = Verifier(engine, now).record(record)
    signed = found.record
    if signed is None:
        complain(["not countersigned.", *found.reasons])
        ctx.exit(REFUSED)
    if take is None:
        _show(signed, engine)
        reviewer, compared = _asked(reviewer, compared)
    wrong = _not_usable(found)
    made = _made(signed, take, reviewer, compared, reviewer_key) if not wrong else None
    if made is not None:
        # Whoever made it elsewhere was asked there.
        wrong += _wrong(signed, made, engine, found, two_people or take is not None)
    if wrong or made is None:
        complain(["not countersigned, and nothing was written:", *(f"  - {w}." for w in wrong)])
        ctx.exit(REFUSED)
    try:
        path = _entered(record, signed, made)
    except RefusedEntry as error:
        complain(["not countersigned, and nothing was written:", f"  - {error}."])
        ctx.exit(REFUSED)
    _say(record, signed, made, path)


def _show(signed: Record, engine: Engine) -> None:
    """What the preparer signed, with what was said to each condition."""
    from review.render.letter import render_letter
    from review.render.page import Page

    scenario = engine.loads(signed.scenario_text, str(signed.data["scenario"]["file"]))
    review = engine.review(scenario)
    output.write(output.rendered(lambda console: render_letter(review, console)))

    def draw(page: Page) -> None:
        page.heading(f"What {signed.preparer} signed on {signed.signed_at:%Y-%m-%d %H:%M} UTC")
        for each in signed.data["conditions"]:
            at = f" ({each['at']})" if each["at"] else ""
            page.text(f"{each['title']}{at}: {each['confirmed']}", indent=4, mark="  -")
        for each in signed.data["answers"]:
            text = f"Not judged: {each['title']}, {each['at']}: {each['reason']} ({each['role']})"
            page.text(text, indent=4, mark="  -")
        page.text(
            f"until {signed.valid_until}, for {signed.runs} run{'s' * (signed.runs > 1)}",
            label="Holds:", indent=4,
        )  # fmt: skip

    output.write(output.rendered(lambda console: draw(Page(console))))


def _asked(reviewer: str | None, compared: str | None) -> tuple[str | None, str | None]:
    from review.cli.sign_options import on_terminal

    if on_terminal():
        reviewer = reviewer or click.prompt("Who compared the set-up?", prompt_suffix=" ")
        compared = compared or click.prompt(
            "What did you compare: the bench with the file, the file with the review?",
            prompt_suffix=" ",
        )
    return reviewer, compared


def _not_usable(found: Verified) -> list[str]:
    """What speaks against the record itself; that it awaits somebody, and is a copy, does not."""
    own = ("In use", "Second person")
    rest = replace(found, points=tuple(p for p in found.points if p.subject not in own))
    wrong = [line.rstrip(".") for line in rest.reasons]
    if any(p.subject == "Signatures" for p in rest.failing):
        wrong.append("a copy needs the files beside the record that end in .sig")
    return wrong


def _made(
    signed: Record,
    take: Path | None,
    reviewer: str | None,
    compared: str | None,
    key: Path | None,
) -> Countersignature | None:
    from review.register import clock
    from review.register.entries import countersignature, read_countersignature
    from review.register.signatures import fingerprint

    if take is not None:
        return read_countersignature(take.read_bytes(), take.name)
    return countersignature(
        signed, reviewer or "", compared or "", clock.now(), key, fingerprint(key) if key else ""
    )


def _wrong(
    signed: Record, made: Countersignature, engine: Engine, found: Verified, two_people: bool
) -> list[str]:
    from review.register import clock, questions
    from review.register.entries import not_countersigned
    from review.register.people import not_listed

    wrong = questions.name_problems("reviewer", made.reviewer)
    wrong += questions.text_problems("what was compared (--compared)", str(made.told["compared"]))
    if not wrong:
        wrong += questions.two_people(signed.preparer, made.reviewer, two_people)
        wrong += [
            each for each in not_countersigned(signed, made, found.standing, clock.now())
            if each not in wrong
        ]  # fmt: skip
    return [*wrong, *not_listed(engine.ruleset.reviewers, made.key)]


def _entered(record: Path, signed: Record, made: Countersignature) -> Path:
    """Into the register around the record, or into a file beside a copy."""
    from review.register import clock, files
    from review.register.chain import Register
    from review.register.entries import entry, not_countersigned, standing
    from review.register.inspection import in_a_register

    if not in_a_register(record):
        beside = record.with_name(f"{record.stem}.countersigned.json")
        files.write(beside, made.to_bytes())
        return beside
    now = clock.now()
    body = entry("countersignature", signed, now, statement=made.text, signature=made.signature)
    return Register(record.parent).add(
        body,
        check=lambda entries: not_countersigned(signed, made, standing(signed, entries), now),
    )


def _say(record: Path, signed: Record, made: Countersignature, path: Path) -> None:
    from review.register.inspection import in_a_register
    from review.register.wording import UNSIGNED
    from review.render.page import Page
    from review.render.words import clean

    there = in_a_register(record)

    def draw(page: Page) -> None:
        page.text(f"{signed.title}", label="Countersigned:", style="bold")
        page.text(f"{made.reviewer}, for {signed.preparer}, who prepared it", label="By:")
        page.text(str(path), label="Entered:" if there else "Written:")
        if made.key:
            page.text(made.key, label="Key of the reviewer:")
        else:
            page.text(f"No key of the reviewer signs it. {UNSIGNED}")
        page.blank()
        if there:
            page.text("Two people have signed it now. Before each run:")
        else:
            page.text("It counts once it is in the register. Send the file there, and then:")

    output.write("\n" + output.rendered(lambda console: draw(Page(console))))
    told = (
        command("runsheet", record)
        if there
        else command("countersign", f"register/{record.name}", "--take", path.name)
    )
    output.write(f"  {clean(told)}")
