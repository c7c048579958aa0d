"""Data and rule files that would cost memory or stack are refused, whoever reads them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from review import DataError, RulesetError
from review.judge.layers import load_layer
from review.reference.tables import read_table
from review.scenario.words import Words, WordsError

READERS: dict[str, tuple[Callable[[Path], object], type[Exception]]] = {
    "words": (lambda path: Words([path]), WordsError),
    "data": (read_table, DataError),
    "rules": (lambda path: load_layer(path, "site"), RulesetError),
}
DEEP = 60


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a: &a [x]\nb: *a\n", "aliases are not used"),
        ("a: " + "[" * DEEP + "]" * DEEP, "nested more than 40 deep"),
        ("a: " + "[" * 5000, "exceeded maximum nesting depth"),
        ("x" * 4_000_001, "too large"),
    ],
)
def test_it_is_refused_in_words(tmp_path: Path, reader: str, text: str, said: str) -> None:
    (tmp_path / "x.yaml").write_text(text)
    read, error = READERS[reader]
    with pytest.raises(error, match=said):
        read(tmp_path / "x.yaml")
