"""What ``benchgate audit`` writes once everything is reviewed: a page, JSON, CSV or Parquet."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from review.cli import output

if TYPE_CHECKING:
    from rich.console import Console

    from review.audit.compare import Compared
    from review.audit.files import Finds
    from review.audit.run import Audit
    from review.audit.select import Selection
    from review.audit.store import Store
    from review.audit.work import Desk
    from review.judge.conditions import Condition

FORMATS = ("terminal", "html", "json", "csv", "parquet")


@dataclass(frozen=True, slots=True)
class Report:
    """What is to be written. Made by `planned`, before anything is reviewed."""

    form: str
    out: Path | None
    against: Path | None
    condition: Condition | None
    quiet: bool

    def write(self, store: Store, desk: Desk, audit: Audit, finds: Finds) -> None:
        """Choose, compare and write what the audit that has the store open found.

        Raises `click.ClickException`, and `StoreError` where a store cannot be read.
        """
        from review.audit.select import choose

        selection = choose(store.connection, self.condition, desk.engine.kinds)
        compared = self._compared(store, desk, finds)
        done = f"{audit.summary()} The results are in {store.path}."
        if self.form == "parquet":
            self._write_parquet(store, compared is not None)
        elif self.form == "html":
            self._write_html(store, desk, audit, selection, compared, done)
        elif self.form == "terminal":
            self._write_page(store, desk, audit, selection, compared, done)
        else:
            self._write_lines(store, desk, selection, compared)
        if self.out is not None and not self.quiet:
            output.write(f"{done}\nWritten to {self.out}.")

    def _compared(self, store: Store, desk: Desk, finds: Finds) -> Compared | None:
        if self.against is None:
            return None
        from review.audit.causes import Causes
        from review.audit.compare import compare, earlier
        from review.audit.select import choose
        from review.audit.store import below

        def gone(path: str) -> bool:
            return below(path, finds.named) and not below(path, finds.unread)

        engine = desk.engine
        with earlier(self.against) as before:
            choose(before, self.condition, engine.kinds)
            causes = Causes(before, store.connection, engine.ruleset, engine.kinds, desk.key.rules)
            return compare(before, store.connection, causes, str(self.against), gone)

    def _write_page(
        self,
        store: Store,
        desk: Desk,
        audit: Audit,
        selection: Selection,
        compared: Compared | None,
        done: str,
    ) -> None:
        from review.audit.summary import draw_summary

        def draw(console: Console) -> None:
            draw_summary(
                store.connection, console, desk.engine.kinds, selection, date.today(),
                compared=compared, done=done, others=audit.others, quiet=self.quiet,
            )  # fmt: skip

        text = output.rendered(draw, to_file=self.out is not None)
        if self.out is None:
            output.write(text)
        else:
            output.write_file(self.out, text)

    def _write_html(
        self,
        store: Store,
        desk: Desk,
        audit: Audit,
        selection: Selection,
        compared: Compared | None,
        done: str,
    ) -> None:
        from review.audit.page import to_html

        text = to_html(
            store.connection, desk.engine.kinds, selection, date.today(), done=done,
            compared=compared, others=audit.others,
            beside=Path() if self.out is None else self.out.parent,
        )  # fmt: skip
        if self.out is None:
            output.write(text)
        else:
            output.write_file(self.out, text)

    def _write_lines(
        self, store: Store, desk: Desk, selection: Selection, compared: Compared | None
    ) -> None:
        from importlib.metadata import version

        from review.audit import export
        from review.audit.figures import count

        engine = desk.engine
        told = export.Told(
            version("benchgate"),
            str(store.path),
            tuple((layer.name, layer.sha256) for layer in engine.ruleset.layers),
            tuple((plugin.name, plugin.sha256) for plugin in engine.plugins),
            count(store.connection, date.today()),
            selection,
            compared,
        )
        make = export.json_lines if self.form == "json" else export.csv_lines
        lines = make(store.connection, told)
        if self.out is None:
            _stream(lines)
        else:
            with _writing(self.out):
                export.write(self.out, lines)

    def _write_parquet(self, store: Store, compared: bool) -> None:
        from review.audit.parquet import write_parquet

        folder = self.out or Path()
        with _writing(folder):
            write_parquet(store.connection, folder, compared=compared)


def planned(
    form: str,
    out: Path | None,
    select: str | None,
    against: Path | None,
    *,
    quiet: bool,
    store: Path,
    desk: Desk,
    finds: Finds,
    inputs: Iterable[Path],
) -> Report:
    """The report asked for, with everything that can be wrong with it found out beforehand.

    Raises `click.ClickException`, and `StoreError` for an earlier store that cannot be used.
    """
    from review.audit.compare import check_against
    from review.audit.store import own_files

    if form == "parquet":
        if out is None:
            raise click.UsageError("--format parquet needs --out FOLDER")
        need("pyarrow", "--format parquet", "parquet")
    kept = own_files(store) | {os.path.realpath(path) for path in inputs}
    if against is not None:
        check_against(against, store)
        kept |= own_files(against)
    if out is not None:
        _check_out(out, kept, finds, folder=form == "parquet")
    return Report(form, out, against, _condition(select, desk), quiet)


def need(package: str, option: str, extra: str) -> None:
    """Raise `click.ClickException` where a package that an option needs is not installed."""
    if importlib.util.find_spec(package) is None:
        raise click.ClickException(
            f"{option} needs the package {package}: pip install 'benchgate[{extra}]'"
        )


def _condition(select: str | None, desk: Desk) -> Condition | None:
    from review.audit.select import selecting
    from review.judge.conditions import RulesetError

    if select is None:
        return None
    try:
        return selecting(select, desk.engine.kinds)
    except RulesetError as error:
        raise click.UsageError(f"--select: {error.message}") from None


def _check_out(out: Path, kept: frozenset[str], finds: Finds, *, folder: bool) -> None:
    """Refuse to write over what the audit reads or keeps, and where nothing can be written."""
    from review.audit.files import Unreadable, content

    real = os.path.realpath(out)
    if real in kept:
        raise click.ClickException(f"{out} is an input of this audit; choose another --out")
    if folder:
        if out.exists() and not out.is_dir():
            raise click.ClickException(f"{out} is no folder; --format parquet writes into one")
        return
    if out.is_dir():
        raise click.ClickException(f"{out} is a folder; choose a file as --out")
    if not out.parent.is_dir():
        raise click.ClickException(f"{out} cannot be written: there is no folder {out.parent}")
    for found in finds.files:
        if os.path.realpath(found.path) == real:
            try:
                audited = content(found) is not None
            except Unreadable:
                audited = True
            if audited:
                raise click.ClickException(f"{out} is one of the files audited; choose another")


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise click.ClickException(f"cannot write {path}: {error.strerror or error}") from error


def _stream(lines: Iterable[str]) -> None:
    """Lines to standard output as they come. A reader that stopped reading is no fault."""
    try:
        for line in lines:
            sys.stdout.write(line)
        sys.stdout.flush()
    except BrokenPipeError:
        # The interpreter flushes once more at exit; let that go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
