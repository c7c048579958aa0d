"""``benchgate explain``: the working of one measure."""

from __future__ import annotations

from pathlib import Path

import click

from review.cli import options, output


@click.command()
@options.scenario_file
@click.argument("measure", metavar="KIND[@ITEM[:OF]]")
@click.option("--run", help="The run to explain; the worst one if not given.")
@click.option("--step", help="The step to explain; the worst one if not given.")
@options.rules_files
@options.plugin_files
def explain(
    file: Path,
    measure: str,
    run: str | None,
    step: str | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Show how one number was worked out, step by step.

    For example: benchgate explain run.yaml "flammability.oxygen_to_limiting@tube"
    """
    from review.engine.reviewing import Engine
    from review.render.explain import render_explain
    from review.render.words import clean

    kind, at, of = split(measure)
    engine = Engine(plugin_files=plugin, rules_files=rules)
    scenario = engine.load(file)
    try:
        explained = engine.explain(scenario, kind, at=at, of=of, run=run, step=step)
    except (KeyError, IndexError):
        # Kinds of LookupError that mean a fault here, not a name that does not exist.
        raise
    except LookupError as error:
        raise click.UsageError(clean(str(error))) from error
    output.write(output.rendered(lambda console: render_explain(explained, console)))


def split(measure: str) -> tuple[str, str | None, str | None]:
    """The parts of ``KIND[@ITEM[:OF]]``.

    >>> split("a.b"), split("a.b@wash bottle"), split("a.b@tube:hydrogen")
    (('a.b', None, None), ('a.b', 'wash bottle', None), ('a.b', 'tube', 'hydrogen'))
    """
    kind, _, place = measure.partition("@")
    at, _, of = place.partition(":")
    return kind.strip(), at.strip() or None, of.strip() or None
