"""``benchgate sign``: two people sign a review off, and a record is written."""

from __future__ import annotations

import shlex
import sys
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from review.cli.confirming import Draft
    from review.register.questions import Question
    from review.register.record import Record
    from review.render.page import Page

REFUSED = 1
INTERRUPTED = 130
_KEY = click.Path(path_type=Path)
_WIDTH = 80
_DOTS = "..."
"""Stands where somebody has to put words of their own; by itself it is no text, so no answer."""


def _day(ctx: click.Context, parameter: click.Parameter, text: str | None) -> date | None:
    from review.cli.confirming import day

    try:
        return None if text is None else day(text)
    except ValueError as error:
        raise click.BadParameter(str(error)) from error


@click.command()
@options.scenario_file
@click.option("--preparer", metavar="NAME", help="Who prepared the set-up.")
@click.option(
    "--reviewer",
    metavar="NAME",
    help="The second person, who compared the set-up with the scenario and the review.",
)
@click.option(
    "--accept",
    metavar="ID=TEXT",
    multiple=True,
    help="Confirm a condition: what was done or seen. Once for each.",
)
@click.option(
    "--answer",
    metavar="ID=ROLE:REASON",
    multiple=True,
    help="Answer a finding that could not be judged: in which role, and why the run may go on. "
    "Once for each.",
)
@click.option(
    "--until",
    metavar="DATE",
    callback=_day,
    help="The last day on which it holds, as 2031-05-06; 30 days from now if not given (common "
    "practice, no source).",
)
@click.option(
    "--runs",
    metavar="N",
    type=int,
    help="For how many runs it holds; 1 if not given (common practice, no source).",
)
@click.option(
    "--register",
    metavar="FOLDER",
    type=click.Path(path_type=Path),
    default=Path("register"),
    show_default=True,
    help="The folder that keeps the records; made if it is not there.",
)
@click.option(
    "--preparer-key", metavar="FILE", type=_KEY, help="SSH key with which the preparer signs."
)
@click.option(
    "--reviewer-key", metavar="FILE", type=_KEY, help="SSH key with which the reviewer signs."
)
@options.rules_files
@options.plugin_files
@click.pass_context
def sign(
    ctx: click.Context,
    file: Path,
    preparer: str | None,
    reviewer: str | None,
    accept: tuple[str, ...],
    answer: tuple[str, ...],
    until: date | None,
    runs: int | None,
    register: Path,
    preparer_key: Path | None,
    reviewer_key: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Sign a review off: two people confirm its conditions, and a record is kept.

    On a terminal it asks for whatever the options do not say; a script is never asked. What must
    not proceed cannot be signed. What could not be judged is signed only with an answer to each
    open finding.

    Exit status 0: signed, and a record was written. 1: refused, and nothing was written. 2: the
    input is wrong. 3: the tool itself failed.
    """
    from review.cli.confirming import Draft, Stopped, ask_for_the_rest
    from review.engine.reviewing import Engine
    from review.register import clock
    from review.register.chain import Register
    from review.register.questions import questions
    from review.register.record import RecordError, compose
    from review.register.signatures import fingerprint
    from review.render.terminal import render_terminal

    keys = {"preparer": preparer_key, "reviewer": reviewer_key}
    signers = {role: key for role, key in keys.items() if key is not None}
    prints = {role: fingerprint(key) for role, key in signers.items()}
    book = Register(register)
    new = not register.exists()
    if not new and (problems := book.problems()):
        # Before anybody has answered anything; what happens meanwhile is found when writing.
        raise RecordError(
            f"{register} is not in order, so nothing is signed into it:\n" + "\n".join(problems)
        )
    engine = Engine(plugin_files=plugin, rules_files=rules)
    scenario = engine.load(file)
    review = engine.review(scenario)
    asked = questions(review)
    draft = Draft(
        preparer, reviewer, until, runs,
        _split(accept, asked, "--accept"), _answers(_split(answer, asked, "--answer")),
    )  # fmt: skip
    wrong = draft.problems(review, asked, clock.now())
    asks = _on_terminal() and not wrong and not draft.complete(asked)
    if not asks:
        output.write(output.rendered(lambda console: render_terminal(review, console, quiet=True)))
    if wrong or not (asks or draft.complete(asked)):
        beyond = review.verdict == "must not proceed"
        _complain(_refusal(wrong, () if beyond else _missing(draft, asked), beyond))
        ctx.exit(REFUSED)
    try:
        if asks:
            ask_for_the_rest(review, asked, draft)
    except Stopped:
        _complain(["not signed, and nothing was written."])
        ctx.exit(REFUSED)
    except (click.Abort, KeyboardInterrupt):
        click.echo(err=True)
        _complain(["interrupted; nothing was written."])
        ctx.exit(INTERRUPTED)
    now = clock.now()
    # Where the file changed meanwhile, nobody has seen what it says now: it is asked anew.
    body = compose(review, scenario, engine.ruleset, draft.signing(now.date()), now, prints)
    try:
        path = book.add({**body, "defaults": draft.defaults()}, signers)
    except RecordError:
        if asks:
            said = _given(rules, plugin)
            said += _options("--register", [register] if register != Path("register") else [])
            said += [part for r, key in signers.items() for part in (f"--{r}-key", str(key))]
            again = _again(file, draft, said)
            _complain(["not signed. To sign without typing it all again:", *again])
        raise
    except KeyboardInterrupt:
        _complain([f"interrupted; benchgate verify {register} says whether a record was written."])
        ctx.exit(INTERRUPTED)
    try:
        _say(path, _read_back(path), file, new, _given(rules, plugin))
    except OSError as error:
        # It is signed, whether or not that can be told as it should be.
        _complain([f"signed: the record is {path}; what it holds for cannot be shown ({error})."])


def _on_terminal() -> bool:
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def _split(given: Iterable[str], asked: Sequence[Question], option: str) -> dict[str, str]:
    """What is said, by the id it is said to; an id may itself hold the sign between the two."""
    from review.render.words import clean

    found: dict[str, str] = {}
    for text in given:
        known = [q.id for q in asked if text.startswith(f"{q.id}=")]
        id = max(known, key=len, default=text.partition("=")[0].strip())
        said = text[len(id) + 1 :] if known else text.partition("=")[2]
        if "=" not in text or not id:
            raise _malformed(option, text)
        if id in found:
            raise click.BadParameter(f"'{clean(id)}' is given twice", param_hint=f"'{option}'")
        found[id] = said.strip()
    return found


def _answers(said: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    found = {}
    for id, text in said.items():
        role, colon, reason = text.partition(":")
        if not colon:
            raise _malformed("--answer", f"{id}={text}")
        found[id] = role.strip(), reason.strip()
    return found


def _malformed(option: str, text: str) -> click.BadParameter:
    from review.render.words import clean

    form, example = {
        "--accept": ("ID=TEXT", "heat.hot_part@tube=the guard is in place"),
        "--answer": ("ID=ROLE:REASON", "heat.joint@tube=teacher: it was hotter in the last run"),
    }[option]
    return click.BadParameter(
        f"'{clean(text)}' is not {form}, such as '{example}'", param_hint=f"'{option}'"
    )


def _refusal(wrong: Sequence[str], missing: Sequence[str], beyond: bool) -> Iterator[str]:
    """Everything that stands in the way, at once."""
    from review.render.words import upper_first

    yield "not signed, and nothing was written."
    if wrong:
        yield "What is wrong:"
        yield from (f"  - {upper_first(problem)}." for problem in wrong)
    if beyond:
        yield "Change what must change, review the set-up again, and sign then."
    elif missing:
        yield "What is missing. Add it, with words of your own in place of the dots:"
        yield from (f"  {line} \\" for line in missing[:-1])
        yield f"  {missing[-1]}"
    if any(line.startswith("--answer") for line in missing):
        yield "An answer is the role of who gives it, a colon, and the reason."


def _missing(draft: Draft, asked: tuple[Question, ...]) -> list[str]:
    """The options that are still to be given, ready to copy but for the words."""
    lines = [f"--{role} '{_DOTS}'" for role in ("preparer", "reviewer") if not getattr(draft, role)]
    for question in sorted(draft.missing(asked), key=lambda q: not q.open):
        if question.open:
            lines.append("--answer " + _quoted(f"{question.id}={_DOTS}: {_DOTS}"))
        else:
            lines.append("--accept " + _quoted(f"{question.id}={_DOTS}"))
    return lines


def _quoted(text: str) -> str:
    """In quotes even where a shell needs none: the words to come will have blanks."""
    return shlex.quote(text) if "'" in text else f"'{text}'"


def _given(rules: Iterable[Path], plugin: Iterable[Path]) -> list[str]:
    """The rules and plugins that were given: without them a record does not hold."""
    return [*_options("--rules", rules), *_options("--plugin", plugin)]


def _options(name: str, files: Iterable[Path]) -> list[str]:
    return [part for file in files for part in (name, str(file))]


def _again(file: Path, draft: Draft, given: Sequence[str]) -> Iterator[str]:
    """The command that says everything that was given and typed, a line for each part."""
    lines = [shlex.join(["benchgate", "sign", str(file), *given])]
    lines += [f"--{r} {shlex.quote(getattr(draft, r))}" for r in ("preparer", "reviewer")]
    for id, (who, reason) in draft.answered.items():
        lines.append(f"--answer {shlex.quote(f'{id}={who}: {reason}')}")
    for id, text in draft.accepted.items():
        lines.append(f"--accept {shlex.quote(f'{id}={text}')}")
    bounds = (("--until", draft.until), ("--runs", draft.runs))
    lines += [f"{name} {value}" for name, value in bounds if value is not None]
    yield from (f"  {line} \\" for line in lines[:-1])
    yield f"  {lines[-1]}"


def _complain(lines: Iterable[str]) -> None:
    """On standard error; what came from a file cannot steer the terminal. Options stay whole."""
    from review.render.words import clean

    shown = []
    for line in lines:
        if line.lstrip(" ").startswith(("--", "benchgate ")):
            shown.append("  " + clean(line))
        else:
            indent = "    " if line.startswith("  - ") else ""
            first = "  " if indent else ""
            shown += textwrap.wrap(
                clean(line), _WIDTH, initial_indent=first, subsequent_indent=indent,
                break_long_words=False, break_on_hyphens=False,
            )  # fmt: skip
    click.echo("\n".join([f"benchgate: {shown[0]}", *shown[1:]]), err=True)


def _read_back(path: Path) -> Record:
    from review.register.record import read_record

    return read_record(path.read_bytes(), path.name)


def _say(path: Path, record: Record, file: Path, new: bool, given: Sequence[str]) -> None:
    """Where the record is, what it holds for, and what it cannot show."""
    from review.cautions import DEFERS
    from review.render.page import Page
    from review.render.words import clean

    output.write("\n" + output.rendered(lambda console: _draw(Page(console), path, record, new)))
    # One line, however long, so that it can be copied.
    command = ["benchgate", "verify", str(path), "--scenario", str(file), *given]
    output.write(f"  {clean(shlex.join(command))}")
    output.write("\n" + output.rendered(lambda console: Page(console).text(DEFERS)))


def _draw(page: Page, path: Path, record: Record, new: bool) -> None:
    from review.cli.labels import labelled
    from review.register.milder import MILDER, milder, plugins
    from review.register.verifying import UNSIGNED
    from review.render.words import counted, listed

    labelled(page, "Signed off:", record.title, style="bold")
    page.text(record.verdict, label="Verdict when signed:")
    page.text(str(path), label="Record:")
    page.text(record.sha256, label="SHA-256:")
    if new:
        page.text(f"{path.parent}, begun with this record", label="Register:")
    people = f"{record.preparer} (prepared it) and {record.reviewer} (compared it)"
    labelled(page, "Signed by:", people)
    for role, key in record.keys.items():
        page.text(key, label=f"Key of the {role}:")
    page.text(
        f"until {record.valid_until}, for {counted(record.runs, 'run')}, and only while the "
        "set-up is as the scenario says",
        label="Holds:",
    )
    defaults = record.data["defaults"]
    usual = [defaults[name]["value"] for name in ("valid_until", "runs") if name in defaults]
    if usual:
        page.text(f"{listed(usual)} (common practice, no source)", label="Usual, as nobody said:")
    if used := plugins(record.data["tool"]):
        labelled(page, "Plugins that are not built in:", used)
    loosened = milder(record.data["ruleset"])
    if loosened:
        page.blank()
        page.text(f"{MILDER}, so that the review asks for less:")
        for line in loosened:
            page.text(line, indent=4, mark="  -")
    lacking = [role for role in ("preparer", "reviewer") if role not in record.keys]
    if lacking:
        page.blank()
        page.text(f"No key of the {listed(lacking, 'or the')} signs it. {UNSIGNED}")
    page.blank()
    page.text("Before each run, ask whether it still holds:")
