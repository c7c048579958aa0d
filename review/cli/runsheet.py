"""``benchgate runsheet``: the operator's page, of a scenario or of a signed record."""

from __future__ import annotations

import shlex
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output

if TYPE_CHECKING:
    from review.engine.reviewing import Engine
    from review.interface.result import Review
    from review.register.record import Record
    from review.register.verifying import Verified
    from review.render.runsheet import RunSheet, SignOff
    from review.scenario import Scenario

REFUSED = 1
_WIDTH = 80
#: What `verify` calls the comparison with a review of today; here only what is worse counts.
_TODAY = "Review today"
#: The mildest first.
_VERDICTS = (
    "may proceed", "may proceed with conditions", "cannot be judged", "must not proceed",
)  # fmt: skip
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
@options.rules_files
@options.plugin_files
@click.pass_context
def runsheet(
    ctx: click.Context,
    file: Path,
    form: str,
    out: Path | None,
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
        sheet = _of_record(file, engine) if _is_record(file) else _of_scenario(file, engine)
    except _Refused as refused:
        _complain(("no run sheet, and nothing was written.", *refused.lines))
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
    scenario = engine.load(file)
    review = engine.review(scenario)
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


def _of_record(file: Path, engine: Engine) -> RunSheet:
    """The page of a record that holds today; milder findings than then are no obstacle."""
    from review.register import clock
    from review.register.verifying import Verifier
    from review.scenario import InputError

    found = Verifier(engine, clock.now()).record(file)
    record = found.record
    if record is None:
        raise _Refused(*_reasons(found))
    try:
        scenario = engine.loads(record.scenario_text, str(record.data["scenario"]["file"]))
    except InputError:
        raise _Refused(*_reasons(found)) from None
    review = engine.review(scenario)
    reasons = _reasons(found, but_for="" if _graver(record, review) else _TODAY)
    if reasons:
        raise _Refused(
            f"Record {record.number} of '{record.title}' does not hold:",
            *(f"  - {line}" for line in reasons),
            "Change what must change, or sign it again. In full:",
            _command("verify", file),
        )
    return _sheet(review, scenario, _signed(record))


def _reasons(found: Verified, but_for: str = "") -> tuple[str, ...]:
    """What does not hold, a line each, but for one subject."""
    return tuple(line for p in found.failing if p.subject != but_for for line in p.lines)


def _graver(record: Record, review: Review) -> bool:
    """Whether a review says anything worse today than what was signed."""
    from review.register.comparison import moves
    from review.render.json import to_json

    if _VERDICTS.index(review.verdict) > _VERDICTS.index(record.verdict):
        return True
    before, after = record.data["review"]["findings"], to_json(review)["findings"]
    return any(m.matters and m.direction in ("worse", "new") for m in moves(before, after))


def _signed(record: Record) -> SignOff:
    from review.render.runsheet import Answer, Confirmation, SignOff

    return SignOff(
        number=record.number,
        sha256=record.sha256,
        signed_at=f"{record.signed_at:%Y-%m-%d %H:%M} UTC",
        valid_until=record.valid_until.isoformat(),
        runs=record.runs,
        preparer=record.preparer,
        reviewer=record.reviewer,
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
    return f"  {shlex.join(['benchgate', verb, str(file)])}"


def _complain(lines: Iterable[str]) -> None:
    """On standard error; what came from a file cannot steer the terminal. Commands stay whole."""
    from review.render.words import clean

    first, *rest = lines
    shown = [f"benchgate: {clean(first)}"]
    for line in rest:
        if line.startswith("  benchgate "):
            shown.append(f"  {clean(line)}")
            continue
        lead = "  - " if line.startswith("  - ") else ""
        shown += textwrap.wrap(
            lead + clean(line.removeprefix(lead)), _WIDTH, subsequent_indent=" " * len(lead),
            break_long_words=False, break_on_hyphens=False,
        )  # fmt: skip
    click.echo("\n".join(shown), err=True)
