"""``benchgate audit``: review many set-ups, and only what changed since the last time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options, output

if TYPE_CHECKING:
    from review.audit.run import Audit

INTERRUPTED = 130


@click.command()
@click.argument(
    "folders",
    metavar="FOLDER...",
    nargs=-1,
    required=True,
    type=click.Path(exists=True, path_type=Path),
)
@click.option(
    "--store",
    "store_path",
    metavar="FILE",
    type=click.Path(dir_okay=False, path_type=Path),
    default=Path("audit.sqlite"),
    show_default=True,
    help="Where results are kept, and found again the next time.",
)
@click.option(
    "--jobs",
    metavar="N",
    type=click.IntRange(min=1),
    help="How many files are reviewed side by side; as many as there are processors unless given.",
)
@options.rules_files
@options.plugin_files
@click.option("--quiet", is_flag=True, help="No progress.")
@click.pass_context
def audit(
    ctx: click.Context,
    folders: tuple[Path, ...],
    store_path: Path,
    jobs: int | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
    quiet: bool,
) -> None:
    """Review every scenario and record in and below the folders.

    What has not changed since it was last reviewed into the same store is not reviewed again. An
    audit that was stopped goes on from there. Exit status 0: every set-up may proceed, perhaps with
    conditions. 1: one must not, cannot be judged or cannot be read. 2: the input is wrong. 3: the
    tool itself failed.
    """
    from review.audit.files import find
    from review.audit.processes import Here, Processes
    from review.audit.progress import Progress
    from review.audit.run import Audit
    from review.audit.store import StoreError, opened, own_files
    from review.audit.work import AuditError, Desk, Recipe

    recipe = Recipe(tuple(map(str, plugin)), tuple(map(str, rules)))
    many = jobs or _processors()
    try:
        finds = find(folders, own_files(store_path))
        with opened(store_path) as store:
            with Progress(quiet=quiet) as progress:
                desk = Desk(recipe)
                pool = Here(desk) if many == 1 else Processes(recipe, many)
                done = Audit(store, desk, pool, progress)
                done.run(finds)
            output.write(_told(done, store_path))
    except (AuditError, StoreError) as error:
        raise click.ClickException(str(error)) from error
    except KeyboardInterrupt:
        click.echo(
            f"benchgate: interrupted. What was done is in {store_path}, and the same command goes "
            "on from there",
            err=True,
        )
        ctx.exit(INTERRUPTED)
    ctx.exit(int(progress.refused > 0))


def _processors() -> int:
    """How many this process may use, where the system tells."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _told(done: Audit, store: Path) -> str:
    """What this call did; what it found is in the store."""
    return f"{done.summary()}\nThe results are in {store}."
