"""``benchgate audit``: review many set-ups, and only what changed since the last time."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import options
from review.cli.audit_report import FORMATS, need, planned

if TYPE_CHECKING:
    from review.audit.processes import Pool, Processes
    from review.audit.recipe import Recipe
    from review.audit.work import Desk

INTERRUPTED = 130


def _columns(ctx: click.Context, option: click.Parameter, wanted: bool) -> None:
    """Print what programs are given, table by table, and do nothing else."""
    if not wanted or ctx.resilient_parsing:
        return
    from review.audit.columns import tables
    from review.cli import output

    for table in tables().values():
        output.write("\t".join(table.heads))
        output.write("\n".join("\t".join(row) for row in table.rows) + "\n")
    ctx.exit(0)


@click.command()
@click.argument(
    "folders",
    metavar="FOLDER...",
    nargs=-1,
    required=True,
    type=click.Path(exists=True, path_type=Path),
)
@click.option(
    "--columns",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_columns,
    help="Say what store, JSON, CSV and Parquet hold, column by column, and end.",
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
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Review on the workers of a Dask scheduler, such as tcp://127.0.0.1:8786.",
)
@click.option(
    "--select",
    metavar="CONDITION",
    help="Tell only of set-ups for which this holds; CEL over facts., worst. and found.",
)
@click.option(
    "--against",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="The store of an earlier audit; tell what became worse, better, new and gone since.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMATS),
    default="terminal",
    show_default=True,
    help="What to write.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Write to this file instead of standard output; with parquet, into this folder.",
)
@options.rules_files
@options.plugin_files
@click.option("--quiet", is_flag=True, help="No progress, and only what matters most.")
@click.pass_context
def audit(
    ctx: click.Context,
    folders: tuple[Path, ...],
    store_path: Path,
    jobs: int | None,
    scheduler: str | None,
    select: str | None,
    against: Path | None,
    form: str,
    out: Path | None,
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
    from review.audit.recipe import Recipe

    if scheduler is not None and jobs is not None:
        raise click.UsageError("--jobs is for this machine; a scheduler knows its own workers")
    recipe = Recipe(tuple(map(str, plugin)), tuple(map(str, rules)))
    many = jobs or _processors()
    all_new = scheduler is None and not store_path.exists() and any(map(Path.is_dir, folders))
    workers = _processes(recipe, many) if many > 1 and all_new else None

    from review.audit.database import StoreError
    from review.audit.files import find
    from review.audit.progress import Progress
    from review.audit.run import Audit
    from review.audit.store import opened, own_files
    from review.audit.work import AuditError, Desk

    try:
        finds = find(folders, own_files(store_path))
        desk = Desk(recipe)
        report = planned(
            form, out, select, against, quiet=quiet, store=store_path, desk=desk, finds=finds,
            inputs=(*rules, *plugin),
        )  # fmt: skip
        with opened(store_path) as store:
            with Progress(quiet=quiet) as progress:
                pool = workers or _pool(scheduler, many, recipe, desk)
                done = Audit(store, desk, pool, progress)
                done.run(finds)
            report.write(store, desk, done, finds)
    except (AuditError, StoreError) as error:
        raise click.ClickException(str(error)) from error
    except KeyboardInterrupt:
        click.echo(
            f"benchgate: interrupted. What was done is in {store_path}, and the same command goes "
            "on from there",
            err=True,
        )
        ctx.exit(INTERRUPTED)
    finally:
        if workers:
            workers.close()
    ctx.exit(int(progress.refused > 0))


def _processors() -> int:
    """How many this process may use, where the system tells."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _processes(recipe: Recipe, jobs: int) -> Processes:
    """Workers that get ready while this process does, since there will be work for them."""
    from review.audit.processes import Processes

    return Processes(recipe, jobs, at_once=True)


def _pool(scheduler: str | None, jobs: int, recipe: Recipe, desk: Desk) -> Pool:
    """Where the work is done: on a cluster, in processes of this machine, or in this one."""
    if scheduler is None:
        from review.audit.processes import Here, Processes

        return Here(desk) if jobs == 1 else Processes(recipe, jobs)
    need("distributed", "--scheduler", "dask")
    from review.audit.cluster import Cluster, ClusterError

    try:
        return Cluster(scheduler, recipe, desk)
    except ClusterError as error:
        raise click.ClickException(str(error)) from error
