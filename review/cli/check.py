"""``benchgate check``: review one scenario."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from review.engine.reviewing import Engine
    from review.interface.result import Review
    from review.scenario import Scenario

NO_PICTURES = "The pictures are left out: they need matplotlib, pip install 'benchgate[page]'."


@click.command()
@options.scenario_file
@click.option(
    "--format",
    "form",
    type=click.Choice(["terminal", "json", "html", "markdown", "sarif"]),
    default="terminal",
    show_default=True,
    help="What to write.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Write to this file instead of standard output.",
)
@options.rules_files
@options.plugin_files
@click.option("--full", is_flag=True, help="Everything the review rests on, not the letter.")
@click.option("--quiet", is_flag=True, help="Only the verdict, what to act on and the cautions.")
@click.option("--watch", is_flag=True, help="Review again each time the file is saved.")
@click.pass_context
def check(
    ctx: click.Context,
    file: Path,
    form: str,
    out: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
    full: bool,
    quiet: bool,
    watch: bool,
) -> None:
    """Review one scenario before the run.

    What may proceed as written is looked at once more within the accuracies of its flows,
    temperatures and sizes.

    Exit status 0: may proceed, perhaps with conditions. 1: must not proceed, or cannot be judged.
    2: the input is wrong. 3: the tool itself failed.
    """
    if watch:
        from review.cli.watching import watched

        ctx.exit(watched(file, rules, plugin, quiet))
    with output.loading():
        from review.engine.reviewing import Engine
        from review.explore.accuracy import weighed

        engine = Engine(plugin_files=plugin, rules_files=rules)
        scenario = engine.load(file)
    review = weighed(engine, scenario, engine.review(scenario))
    status = output.EXIT_STATUS[review.verdict]
    if form == "terminal":
        from review.render.letter import render_letter
        from review.render.terminal import render_terminal

        text = output.rendered(
            lambda console: (render_terminal if full else render_letter)(review, console, quiet),
            to_file=out is not None,
        )
    else:
        text = _written(form, file, engine, scenario, review)
    if out is None:
        output.write(text)
    else:
        output.write_file(out, text, keep=(file, *rules, *plugin))
        if not quiet:
            output.write(f"Verdict: {review.verdict}. Written to {out}.")
    ctx.exit(status)


def _written(form: str, file: Path, engine: Engine, scenario: Scenario, review: Review) -> str:
    """The review in a form that is read elsewhere; only what that form needs is imported."""
    if form == "json":
        from review.render.json import dumps

        return dumps(review)
    if form == "markdown":
        from review.render.markdown import to_markdown

        return to_markdown(review)
    if form == "sarif":
        from review.render import sarif
        from review.scenario.yaml import read_file

        document = read_file(file)
        same = document.sha256 == review.scenario_sha256
        return sarif.dumps(review, document.places if same else {})
    from review.render.html import to_html

    leading = [cause.leading for cause in review.causes]
    workings = engine.workings(scenario, review, leading)
    try:
        from review.render.pictures import pictures
    except ModuleNotFoundError as lacking:
        if lacking.name != "matplotlib":
            raise
        return to_html(review, workings, lacks=NO_PICTURES)
    return to_html(review, workings, pictures(review, engine.played(scenario)))
