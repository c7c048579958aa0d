"""``benchgate runsheet``: the operator's page, of a scenario or of a signed record."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output
from review.cli.telling import command, complain

if TYPE_CHECKING:
    from review.engine.reviewing import Engine
    from review.interface.result import Review
    from review.register.verified import Verified
    from review.render.runsheet import RunSheet, SignOff
    from review.scenario import Scenario

REFUSED = 1
_FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)


class _Refused(Exception):
    """There is no page for this; the lines say why and what to do."""

    def __init__(self, *lines: str) -> None:
        super().__init__(*lines)
        self.lines = lines


@click.command()
@click.argument("file", metavar="FILE|RECORD", type=_FILE)
@click.option(
    "--format",
    "form",
    type=click.Choice(["markdown", "html"]),
    default="markdown",
    show_default=True,
    help="What to write; html prints on one or two pages.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Write to this file instead of standard output.",
)
@options.one_person
@options.rules_files
@options.plugin_files
@click.pass_context
def runsheet(
    ctx: click.Context,
    file: Path,
    form: str,
    out: Path | None,
    one_person: bool,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Print the operator's page: settings, steps with their least times, what to do when.

    FILE is a scenario: the page says that nobody has signed it off. RECORD is a signed review: it
    has to be as it was signed and to say no less today. Give the rules and plugins it was signed
    with.

    Exit status 0: the page was written. 1: refused, and nothing was written. 2: the input is
    wrong. 3: the tool itself failed.
    """
    from review.engine.reviewing import Engine

    engine = Engine(plugin_files=plugin, rules_files=rules)
    try:
        sheet = (
            _of_record(file, engine, one_person) if _is_record(file) else _of_scenario(file, engine)
        )
    except _Refused as refused:
        complain(("no run sheet, and nothing was written.", *refused.lines))
        ctx.exit(REFUSED)
    if form == "html":
        from review.render.runsheet_html import to_html

        text = to_html(sheet)
    else:
        from review.render.runsheet_markdown import to_markdown

        text = to_markdown(sheet)
    if out is None:
        output.write(text)
    else:
        output.write_file(out, text, keep=(file, *rules, *plugin))
        state = f"of record {sheet.signed.number}" if sheet.signed else "(NOT SIGNED OFF)"
        output.write(f"Run sheet {state} written to {out}.")


def _is_record(file: Path) -> bool:
    from review.register.record import LARGEST, looks_like_record

    if not file.is_file() or file.stat().st_size > LARGEST:
        return False
    data = file.read_bytes()
    # Half a record is no scenario either, and is told what it is.
    return looks_like_record(data) or b'"benchgate_record"' in data


def _of_scenario(file: Path, engine: Engine) -> RunSheet:
    from review.explore.accuracy import weighed

    scenario = engine.load(file)
    review = engine.review(scenario)
    if (closer := weighed(engine, scenario, review)).verdict != review.verdict:
        review = closer
    if review.verdict in ("must not proceed", "cannot be judged"):
        raise _Refused(*_forbidden(review, file))
    return _sheet(review, scenario, None)


def _forbidden(review: Review, file: Path) -> Iterator[str]:
    """Why there is no page for a set-up, and what to do about it."""
    from review.render import words
    from review.render.grouping import entries

    yield f"The verdict on '{review.title}' is '{review.verdict}'."
    must_not = review.verdict == "must not proceed"
    grade = "unacceptable" if must_not else "undetermined"
    found = entries((f for f in review.findings if f.grade == grade and f.blocks), review.kinds)
    titles = dict.fromkeys(each.worst.title or each.worst.criterion for each in found)
    yield from (f"  - {words.upper_first(title)}" for title in titles)
    if must_not:
        yield "Change what must change, and review it again:"
        yield _command("check", file)
    else:
        yield "Find out what is not known:"
        yield _command("check", file)
        yield "or have it answered by a competent person, sign it off, and print the record's page:"
        yield _command("sign", file)


def _of_record(file: Path, engine: Engine, one_person: bool) -> RunSheet:
    """The page of a record that may be used today; milder findings than then are no obstacle."""
    from review.register import clock
    from review.register.verifying import Verifier
    from review.scenario import InputError

    found = Verifier(engine, clock.now(), one_person=one_person).record(file)
    record = found.record
    reasons = found.reasons
    if record is None:
        raise _Refused(*reasons)
    if not reasons:
        try:
            scenario = engine.loads(record.scenario_text, str(record.data["scenario"]["file"]))
        except InputError as error:
            reasons = tuple(str(error).splitlines())
    if reasons:
        raise _Refused(
            f"Record {record.number} of '{record.title}' may not be used:",
            *(f"  - {line}" for line in reasons),
            *_what_then(found, file),
        )
    return _sheet(engine.review(scenario), scenario, _signed(found))


def _what_then(found: Verified, file: Path) -> tuple[str, str]:
    if [point.subject for point in found.failing] == ["Second person"] and found.sound:
        return "Have a second person countersign it:", f"  {command('countersign', file)}"
    return "Change what must change, or sign it again. In full:", f"  {command('verify', file)}"


def _signed(found: Verified) -> SignOff:
    from review.register.use import run_in_words, signers
    from review.render.runsheet import Answer, Confirmation, SignOff

    record = found.record
    assert record is not None
    return SignOff(
        number=record.number,
        sha256=record.sha256,
        signed_at=f"{record.signed_at:%Y-%m-%d %H:%M} UTC",
        valid_until=record.valid_until.isoformat(),
        runs=record.runs,
        preparer=record.preparer,
        reviewer=found.standing.reviewer or record.reviewer,
        signers=signers(record, found.standing),
        one_person=record.second == "nobody",
        run=len(found.standing.runs) + 1,
        earlier=tuple(map(run_in_words, found.standing.runs)),
        confirmed=tuple(
            Confirmation(
                said["criterion"], said["title"], said["at"], said["action"], said["confirmed"]
            )
            for said in record.data["conditions"]
        ),
        answers=tuple(
            Answer(said["title"] or said["criterion"], _place(said), said["role"], said["reason"])
            for said in record.data["answers"]
        ),
    )


def _place(said: Mapping[str, Any]) -> str:
    return ", ".join(part for part in (said["at"], said["of"]) if part)


def _sheet(review: Review, scenario: Scenario, signed: SignOff | None) -> RunSheet:
    from review.register import clock
    from review.render.runsheet import run_sheet

    return run_sheet(review, scenario, signed, printed=clock.now().date().isoformat())


def _command(verb: str, file: Path) -> str:
    return f"  {command(verb, file)}"
