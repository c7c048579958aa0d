"""The engine really offers what the verbs ask of it, under the names they use."""

from __future__ import annotations

import dataclasses
import inspect
from typing import get_args

import pytest

from review.cli.output import EXIT_STATUS
from review.engine.reviewing import Engine, Explanation
from review.interface.result import Verdict
from review.render.explain import Explained


@pytest.mark.parametrize(
    ("function", "names"),
    [
        (Engine.__init__, ("plugin_files", "rules_files")),
        (Engine.review, ("scenario",)),
        (Engine.explain, ("scenario", "kind", "at", "of", "run", "step")),
    ],
)
def test_the_engine_takes_what_the_verbs_give(function: object, names: tuple[str, ...]) -> None:
    assert callable(function)
    assert set(names) <= set(inspect.signature(function).parameters)


def test_an_explanation_has_what_the_page_shows() -> None:
    shown = {n for n, v in vars(Explained).items() if isinstance(v, property)}
    assert shown
    assert shown <= {f.name for f in dataclasses.fields(Explanation)}


def test_every_verdict_has_an_exit_status_and_only_the_good_ones_pass() -> None:
    assert set(EXIT_STATUS) == set(get_args(Verdict))
    passed = {verdict for verdict, status in EXIT_STATUS.items() if status == 0}
    assert passed == {"may proceed", "may proceed with conditions"}
