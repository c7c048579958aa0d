"""``benchgate suggest``: what would clear a refusal, with the number to set."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from rich.console import Console

    from review.explore.acts import ForCause, Suggested, Suggestion
    from review.interface.result import Review


@click.command()
@options.scenario_file
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Write the file with what lets the run proceed; never over a file.",
)
@options.rules_files
@options.plugin_files
@click.pass_context
def suggest(
    ctx: click.Context,
    file: Path,
    out: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """What would clear each thing that stands against the run.

    Looks for the nearest single change, then pair, among flows, temperatures, times, sizes,
    amounts, materials, the place, an added trap, purge or safeguard. Each is reviewed in full
    before it is told. No rule is loosened and no safeguard taken away. Ctrl-C shows what is known
    so far.

    Exit status 0: nothing stands against the run, or something was found that lets it proceed.
    1: nothing such was found. 2: the input is wrong.
    """
    from review.engine.reviewing import Engine
    from review.explore.suggest import suggest as search

    if out is not None and out.exists():
        raise click.ClickException(f"{out} is there already; choose another --out")
    engine = Engine(plugin_files=plugin, rules_files=rules)
    engine.load(file)
    found = search(engine, file.read_text("utf-8-sig"), str(file), _bar())
    if sys.stderr.isatty():
        click.echo("\r" + " " * 70 + "\r", nl=False, err=True)
    output.write(page(found))
    if out is not None and found.allowed is not None:
        output.write_new(out, _header(found.allowed) + found.allowed.text)
        output.write(f"Written to {out}. Review it: benchgate check {out}")
    ctx.exit(0 if found.allowed is not None or not found.causes else 1)


def _bar() -> Callable[[str, int, int], None]:
    """A line on the terminal with what was looked at; nothing in a pipe."""
    if not sys.stderr.isatty():
        return lambda what, done, of: None
    began = time.monotonic()

    def show(what: str, done: int, of: int) -> None:
        line = f"\r{done} {what}, {time.monotonic() - began:.0f} s (Ctrl-C: show what is known)   "
        click.echo(line, nl=False, err=True)

    return show


def page(found: Suggested) -> str:
    """The suggestions as text."""
    from review.cautions import IN_BRIEF
    from review.render.page import Page

    def draw(console: Console) -> None:
        page = Page(console)
        review = found.review
        page.text(review.title, style="bold")
        page.text(review.verdict.upper(), style="bold")
        page.blank()
        if not found.causes:
            page.text("Nothing stands against this run; there is nothing to suggest.")
        for number, cause in enumerate(found.causes, 1):
            _cause(page, review, cause, number, found.whole)
            page.blank()
        if found.causes:
            _together(page, found)
        page.blank()
        for line in IN_BRIEF:
            page.text(line)

    return output.rendered(draw)


def _cause(page: object, review: Review, cause: ForCause, number: int, whole: bool) -> None:
    from review.render.page import Page
    from review.render.telling import headline

    assert isinstance(page, Page)
    page.text(headline(review, cause.cause), indent=3, mark=str(number), style="bold")
    for n, suggestion in enumerate(cause.found):
        first, *rest = _acts(suggestion)
        page.text(f"{'Or: ' if n else ''}{first}", indent=5, mark="   -")
        for line in rest:
            page.text(f"and {line[0].lower()}{line[1:]}", indent=5)
        for line in _beside(suggestion):
            page.text(line, indent=5)
        page.text(_then(suggestion), indent=5)
    if cause.found:
        return
    if cause.cause.lacks:
        page.text("No setting stands in for what is not known. State it in the file.", indent=3)
    elif whole:
        page.text("No such change: none of those tried, alone or in pairs, clears it.", indent=3)
    else:
        page.text("Not looked at to the end.", indent=3)


def _acts(suggestion: Suggestion) -> list[str]:
    return [f"{act.says.rstrip('.')}." for act in suggestion.acts]


def _beside(suggestion: Suggestion) -> Iterable[str]:
    """What a person should know of a suggestion before liking it."""
    if suggestion.another:
        yield "This is far from what was planned: another experiment."
    for said in suggestion.unmet:
        yield f"Against what you want: {said}."
    if suggestion.lacks:
        from review.render.words import listed

        yield f"Still not known then: {listed(suggestion.lacks[:3])}. State it in the file."


def _then(suggestion: Suggestion) -> str:
    if not suggestion.left:
        return f"Then the run {suggestion.verdict}."
    things = "thing stands" if suggestion.left == 1 else "things stand"
    return f"That clears this; {suggestion.left} other {things} against the run."


def _together(page: object, found: Suggested) -> None:
    from review.render.page import Page
    from review.render.words import counted

    assert isinstance(page, Page)
    if found.allowed is not None:
        page.text(f"The run {found.allowed.verdict} if all of this is done:", style="bold")
        for line in _acts(found.allowed):
            page.text(line, indent=4, mark="[ ]")
        for line in _beside(found.allowed):
            page.text(line)
    elif found.whole:
        unknown = any(s.lacks for cause in found.causes for s in cause.found)
        why = " State first what is not known." if unknown else ""
        page.text(f"Nothing that was tried lets the run proceed.{why}", style="bold")
    if not found.whole:
        page.text("Broken off: only what is shown is known.")
    page.blank()
    page.text(
        f"Looked at {found.settings} settings of {counted(found.numbers, 'number')} and "
        f"{counted(found.changes, 'other change')}; reviewed "
        f"{counted(found.reviews, 'changed file')} in full."
    )
    page.text("Each suggestion was reviewed with every failure. It is not yet a plan: make the "
              "change in the file, then review, sign and try it cold.")  # fmt: skip


def _header(suggestion: Suggestion) -> str:
    lines: Iterable[str] = ("Suggested by benchgate, not yet checked by a person:",
                            *_acts(suggestion))  # fmt: skip
    return "".join(f"# {line}\n" for line in lines)
