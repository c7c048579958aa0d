"""``benchgate withdraw`` and ``benchgate ran``: what becomes of a sign-off after it was signed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output
from review.cli.telling import command, complain

if TYPE_CHECKING:
    from review.register.record import Record

REFUSED = 1
_FILE = click.Path(exists=True, dir_okay=False, readable=True, path_type=Path)
_record = click.argument("record", metavar="RECORD", type=_FILE)
_by = click.option("--by", metavar="NAME", required=True, help="Who says so.")
_key = click.option(
    "--key", metavar="FILE", type=click.Path(path_type=Path), help="SSH key with which they sign."
)


@click.command()
@_record
@click.option("--reason", metavar="TEXT", required=True, help="Why nobody may run it any more.")
@_by
@_key
@click.pass_context
def withdraw(ctx: click.Context, record: Path, reason: str, by: str, key: Path | None) -> None:
    """Withdraw a sign-off: from now on nobody may run the set-up on it.

    It cannot be undone; sign the set-up again instead. The register's head counts the withdrawal,
    so one that was removed, renamed or put elsewhere shows.

    Exit status 0: withdrawn. 1: refused. 2: the input is wrong. 3: the tool itself failed.
    """
    from review.register import questions

    signed = _sign_off(record)
    wrong = questions.name_problems("signer", by) + questions.text_problems("the reason", reason)

    def also(entries: tuple[Record, ...]) -> Sequence[str]:
        from review.register.entries import standing

        gone = standing(signed, entries).withdrawn
        return [f"it was withdrawn already, by {gone.data['by']}"] if gone else []

    path = _enter(ctx, record, signed, wrong, also, key, "withdrawal", by=by, reason=reason)
    output.write(
        f"Withdrawn: record {signed.number} of {signed.title}. Nobody may run it; take down its "
        f"run sheets.\nEntered: {path}\nKeep a copy of {record.parent / 'head.json'} elsewhere: it "
        "counts the withdrawal."
    )


@click.command()
@_record
@_by
@click.option("--noted", metavar="TEXT", default="", help="What was seen.")
@click.option(
    "--incident",
    metavar="TEXT",
    default="",
    help="What went wrong. It is printed on the next run sheet and asked about when the set-up is "
    "signed again.",
)
@click.option(
    "--log",
    metavar="CSV",
    type=_FILE,
    help="Readings, to be compared with the plan: a column 'time' or 'step', and one for each "
    "flow, heat source, or KIND@ITEM, with its unit: 'furnace [degC]'.",
)
@click.option(
    "--nevertheless",
    is_flag=True,
    help="Note a run that took place although the record did not allow it.",
)
@_key
@options.rules_files
@options.plugin_files
@click.pass_context
def ran(
    ctx: click.Context,
    record: Path,
    by: str,
    noted: str,
    incident: str,
    log: Path | None,
    nevertheless: bool,
    key: Path | None,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Note a run of a signed set-up: it counts, and what was seen is kept.

    Exit status 0: noted. 1: refused, since the record did not allow a run, or the readings left
    the plan (then it is noted). 2: the input is wrong. 3: the tool itself failed.
    """
    from review.register import questions
    from review.register.entries import standing
    from review.register.use import not_to_be_run
    from review.render.words import counted

    signed = _sign_off(record)
    wrong = questions.name_problems("signer", by)
    for what, text in (("what was noted", noted), ("the incident", incident)):
        wrong += questions.text_problems(what, text) if text else []
    told = _compared(signed, log, rules, plugin) if log is not None else None
    beyond: list[str] = []

    def also(entries: tuple[Record, ...]) -> Sequence[str]:
        beyond[:] = not_to_be_run(signed, standing(signed, entries), _today())
        if nevertheless or not beyond:
            return []
        return [*beyond, "if it was run nevertheless, say so with --nevertheless"]

    book_entries = _entries(record)
    not_allowed = not_to_be_run(signed, standing(signed, book_entries), _today())
    if nevertheless and not_allowed and not incident:
        incident = f"It was run although {'; '.join(not_allowed)}"
    path = _enter(
        ctx, record, signed, wrong, also, key, "run", by=by, noted=noted, incident=incident,
        nevertheless=not_allowed if nevertheless else [], log=told,
    )  # fmt: skip
    count = len(standing(signed, _entries(record)).runs)
    output.write(f"Noted: run {count} of {signed.runs} of {signed.title}.\nEntered: {path}")
    left = max(signed.runs - count, 0)
    output.write(f"{counted(left, 'run')} left." + ("" if left else " Sign it again before more."))
    if told is not None:
        output.write("\n".join(("Readings against the plan:", *(f"  - {t}" for t in told["told"]))))
        ctx.exit(REFUSED if told["left"] else 0)


def _compared(
    signed: Record, log: Path, rules: tuple[Path, ...], plugin: tuple[Path, ...]
) -> dict[str, Any]:
    """What a log says against the plan, as a record keeps it."""
    from review.engine.reviewing import Engine
    from review.register.log import against_plan, read_log
    from review.register.record import sha256

    engine = Engine(plugin_files=plugin, rules_files=rules)
    scenario = engine.loads(signed.scenario_text, str(signed.data["scenario"]["file"]))
    data = log.read_bytes()
    found = against_plan(read_log(data, log.name), scenario, engine.review(scenario))
    return {
        "file": log.name, "sha256": sha256(data), "told": list(found.told), "left": found.left,
    }  # fmt: skip


def _today() -> Any:
    from review.register import clock

    return clock.now().date()


def _sign_off(record: Path) -> Record:
    """The sign-off in a file that stands in a register in order; raises RecordError otherwise."""
    from review.register.inspection import in_a_register, record_name
    from review.register.record import RecordError, read_record

    signed = read_record(record.read_bytes(), record.name)
    if signed.kind != "sign-off":
        raise RecordError(
            f"{record.name} is no sign-off, but notes a {signed.kind}: name "
            f"{record_name(signed.of[0])}"
        )
    if not in_a_register(record):
        raise RecordError(f"{record} is a copy: name the record in its register")
    return signed


def _entries(record: Path) -> tuple[Record, ...]:
    from review.register.chain import Register
    from review.register.record import RecordError

    book = Register(record.parent)
    if problems := book.problems():
        raise RecordError(
            f"{record.parent} is not in order, so nothing is entered:\n" + "\n".join(problems)
        )
    entries = book.entries()
    if all(each.sha256 != _sign_off(record).sha256 for each in entries):
        raise RecordError(f"{record.name} is no record of {record.parent}")
    return entries


def _enter(
    ctx: click.Context,
    record: Path,
    signed: Record,
    wrong: list[str],
    also: Any,
    key: Path | None,
    kind: str,
    **told: Any,
) -> Path:
    """The entry's path; exit status 1 where something speaks against it."""
    from review.register import clock
    from review.register.chain import RefusedEntry, Register
    from review.register.entries import entry
    from review.register.signatures import fingerprint

    _entries(record)
    if wrong:
        complain(["nothing was entered:", *(f"  - {each}." for each in wrong)])
        ctx.exit(REFUSED)
    body = entry(kind, signed, clock.now(), **told)
    keys = {} if key is None else {"signer": key}
    body["keys"] = {role: fingerprint(file) for role, file in keys.items()}
    try:
        return Register(record.parent).add(body, keys, check=also)
    except RefusedEntry as error:
        complain(["nothing was entered:", f"  - {error}.", "In full:",
                  f"  {command('verify', record)}"])  # fmt: skip
        ctx.exit(REFUSED)
