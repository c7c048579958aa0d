"""The command line of benchgate; one module per group of verbs.

Importing this package is cheap: each command imports what it needs when it runs.
"""

from __future__ import annotations

import gc
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from review.cli import apart
from review.cli.audit import audit
from review.cli.check import check
from review.cli.countersign import countersign
from review.cli.desk import desk
from review.cli.explain import explain
from review.cli.lists import checks, rules, schema, words
from review.cli.new import new
from review.cli.noting import ran, withdraw
from review.cli.range import range_
from review.cli.runsheet import runsheet
from review.cli.sheets import material, substance
from review.cli.sign import sign
from review.cli.suggest import suggest
from review.cli.verify import verify

WRONG_INPUT = 2
TOOL_FAILED = 3
INTERRUPTED = 130
#: So many problems of a file are told at once; nobody reads more.
AT_ONCE = 20

_WRONG_INPUTS = (
    ("review.scenario.errors", "InputError"),
    ("review.judge.conditions", "RulesetError"),
    ("review.interface.plugin", "PluginError"),
    ("review.reference.data", "DataError"),
    ("review.register.record", "RecordError"),
)


class Gate(click.Group):
    """The group of verbs; turns every way of failing into its exit status."""

    def main(self, *args: Any, **extra: Any) -> NoReturn:
        extra["standalone_mode"] = False
        # A review makes many objects that live on and few cycles; 6 % of a check's time.
        gc.set_threshold(20_000, 20, 20)
        _survive_narrow_encodings()
        try:
            status = super().main(*args, **extra)
        except click.Abort:
            _complain("interrupted; nothing was judged")
            sys.exit(INTERRUPTED)
        except click.UsageError as error:
            error.show()
            sys.exit(WRONG_INPUT)
        except click.ClickException as error:
            _complain(error.format_message())
            sys.exit(WRONG_INPUT)
        except Exception as error:
            sys.exit(_failed(error))
        sys.exit(status if isinstance(status, int) else 0)


def _failed(error: Exception) -> int:
    """Say what went wrong, and whose fault it is."""
    if _is_wrong_input(error):
        told = str(error).splitlines()
        if len(told) > AT_ONCE:
            told[AT_ONCE:] = [f"and {len(told) - AT_ONCE} more: put these right first"]
        _complain("\n".join(told))
        return WRONG_INPUT
    if os.environ.get("BENCHGATE_DEBUG") == "1":
        traceback.print_exception(error)
    _complain(
        f"a fault in the tool, and nothing was judged: {type(error).__name__}: {error}\n"
        "Do not take this as a result. BENCHGATE_DEBUG=1 shows where it happened."
    )
    return TOOL_FAILED


def _is_wrong_input(error: Exception) -> bool:
    """Whether the error speaks of the scenario, a ruleset or a plugin rather than of the tool.

    Only modules that are loaded can have raised; loading them here could fail in its turn.
    """
    found = (getattr(sys.modules.get(module), name, None) for module, name in _WRONG_INPUTS)
    return any(isinstance(kind, type) and isinstance(error, kind) for kind in found)


def _complain(message: str) -> None:
    """One message on standard error; what came from a file cannot steer the terminal."""
    from review.render.words import clean

    lines = [clean(line) for line in message.splitlines()] or ["unknown error"]
    lines[0] = f"benchgate: {lines[0]}"
    click.echo("\n".join(lines), err=True)


def _survive_narrow_encodings() -> None:
    """A character the terminal lacks becomes a question mark, not a failure."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


@click.group(cls=Gate, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="benchgate", prog_name="benchgate")
def group() -> None:
    """Review the hazards of a bench experiment before it is run.

    The review defers to local codes, the authority having jurisdiction and licensed practice.
    """


_COMMANDS = (
    check, explain, range_, suggest, desk, sign, countersign, withdraw, ran, verify, runsheet,
    audit, checks, rules, schema, words, substance, material, new,
)  # fmt: skip
for _command in _COMMANDS:
    group.add_command(_command)


def main(args: Sequence[str] | None = None) -> NoReturn:
    """The entry point of the ``benchgate`` command; always leaves through `SystemExit`."""
    given = list(sys.argv[1:] if args is None else args)

    def work() -> NoReturn:
        group.main(args=given, prog_name="benchgate")

    if not apart.needed(given):
        work()
    sys.exit(apart.run(work, TOOL_FAILED))
