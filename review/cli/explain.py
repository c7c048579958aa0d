"""``benchgate explain``: the working of one measure."""

from __future__ import annotations

from pathlib import Path

import click

from review.cli import options, output


@click.command()
@options.scenario_file
@click.argument("measure", metavar="KIND[@ITEM[:OF]]|CRITERION[@ITEM]|ITEM")
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

    A criterion or an item stands for its gravest finding.

    For example: benchgate explain run.yaml "flammability.oxygen_to_limiting@tube"
    """
    from review.engine.reviewing import Engine
    from review.render.explain import render_explain
    from review.render.which import worst_of
    from review.render.words import clean

    kind, at, of = split(measure)
    engine = Engine(plugin_files=plugin, rules_files=rules)
    scenario = engine.load(file)
    try:
        name = measure.strip()
        criterion = next((c for c in engine.ruleset.criteria if c.id == kind and c.kind), None)
        if kind not in engine.kinds and criterion is not None and at is not None:
            kind = criterion.kind
        elif name not in engine.kinds and kind not in engine.kinds:
            found = worst_of(engine.review(scenario), name, engine.ruleset.criteria)
            if found is not None:
                kind, at, of = found.kind, found.at or None, found.of or None
                run, step = run or found.trial, step or found.step
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
