"""What the documents show is what happens."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import click

from review.cli import group


def test_a_documented_command_does_what_it_says(documented: Any, run: Callable[..., Any]) -> None:
    page, command = documented
    result = run(page, command.line)
    assert result.exit_code == command.status, result.output
    rest = _masked(result.output)
    for wanted in filter(None, map(_masked, command.shown.split("…"))):
        assert wanted in rest, f"not (or not in this order) in the output: {wanted}\n{rest}"
        rest = rest.split(wanted, 1)[1]


def _masked(text: str) -> str:
    """Text without line breaks and figures, which other tests check."""
    return " ".join(re.sub(r"-?\d+(\.\d+)?", "#", text).split())


def test_both_documents_show_commands(readme: Any, developers: Any) -> None:
    assert len(readme.commands) >= 8
    assert len(developers.commands) >= 2


def test_the_two_setting_up_commands_differ_only_in_what_they_then_do(readme: Any) -> None:
    """`.ci/run` runs both; here only their form is looked at."""
    shells = [text.strip() for language, text in readme.blocks if language == "sh"]
    demo, tests = (text for text in shells if text.startswith("python3 -m venv"))
    assert demo.endswith("check scenarios/copper_oxide_forming_gas.yaml")
    assert " -m pytest" in tests


def test_every_verb_is_named(readme: Any) -> None:
    """The options of each are what `--help` prints; the page names the verbs and no other."""
    section = readme.text.split("## Commands")[1].split("benchgate VERB")[0]
    assert set(re.findall(r"`([a-z ]+)`", section)) == set(_verbs(group))


def _verbs(verbs: click.Group) -> Iterator[str]:
    for name, each in verbs.commands.items():
        if isinstance(each, click.Group):
            yield from (f"{name} {verb}" for verb in _verbs(each))
        else:
            yield name


def test_every_option_says_what_it_does() -> None:
    for verb in _commands(group):
        for option in verb.params:
            if isinstance(option, click.Option):
                assert option.help, f"{verb.name} {option.opts[0]}"


def _commands(verbs: click.Group) -> Iterator[click.Command]:
    for each in verbs.commands.values():
        yield from _commands(each) if isinstance(each, click.Group) else (each,)


def test_exit_statuses(readme: Any) -> None:
    from review.cli import INTERRUPTED, TOOL_FAILED, WRONG_INPUT
    from review.cli.output import EXIT_STATUS

    told = " ".join(readme.text.split("Exit status 0:")[1].split("##")[0].split())
    verdicts = {0: told.split("; 1:")[0], 1: told.split("; 1:")[1].split("; 2")[0]}
    for verdict, status in EXIT_STATUS.items():
        assert f"`{verdict.removesuffix(' with conditions')}`" in verdicts[status]
    assert f"{WRONG_INPUT} means that the input is wrong" in told
    assert f"{TOOL_FAILED} that the tool itself failed" in told
    assert f"{INTERRUPTED} that it was interrupted" in told
