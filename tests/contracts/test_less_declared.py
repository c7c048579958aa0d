"""Less declared is never better: a drawn field left out of a demo never lifts a refusal."""

from __future__ import annotations

import copy
import random
from collections.abc import Iterator
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import pytest
import yaml

from review import Engine, InputError, loads

ROOT = Path(__file__).resolve().parents[2]
EXCEPTIONS = yaml.safe_load(Path(__file__).with_name("less_declared.yaml").read_text("utf-8"))
START_NUMBER = 20261128
DRAWN = 12
WORSE = ("may proceed", "may proceed with conditions", "cannot be judged", "must not proceed")
#: What says nothing of the set-up.
WORDS = ("title", "purpose", "prepared_by", "room", "operators")
#: Quick to review, with gas, heat, liquid, catalyst and absorbent between them.
DEMOS = ("ethanol_dehydrated_over_alumina", "hydrogen_chloride_absorbed", "nitrogen_dried",
         "copper_oxide_forming_gas", "water_distilled", "diethyl_ether_on_a_hot_plate")  # fmt: skip

Where = tuple[str | int, ...]


def fields(part: Any, path: Where = ()) -> Iterator[Where]:
    pairs = part.items() if isinstance(part, dict) else enumerate(part)
    for key, value in pairs:
        yield (*path, key)
        if isinstance(value, (dict, list)):
            yield from fields(value, (*path, key))


def without(document: Any, path: Where) -> str:
    left = copy.deepcopy(document)
    at = left
    for key in path[:-1]:
        at = at[key]
    del at[path[-1]]
    return yaml.dump(left, sort_keys=False)


def excepted(path: Where) -> bool:
    parts = [str(key) for key in path]
    for exception in EXCEPTIONS:
        wanted = exception["field"].split(".")
        if len(wanted) == len(parts) and all(map(fnmatchcase, parts, wanted)):
            return True
    return False


def drawn() -> list[tuple[str, Where]]:
    every = []
    for name in DEMOS:
        text = (ROOT / "scenarios" / f"{name}.yaml").read_text("utf-8")
        document = yaml.load(text, yaml.BaseLoader)
        every += [(name, path) for path in fields(document) if path[0] not in WORDS]
    every = [each for each in every if not excepted(each[1])]
    return random.Random(START_NUMBER).sample(every, DRAWN)


@pytest.fixture(scope="module")
def verdict():
    engine, known = Engine(), {}

    def of(text: str) -> int | None:
        if text not in known:
            try:
                known[text] = WORSE.index(engine.review(loads(text)).verdict)
            except InputError:
                known[text] = None
        return known[text]

    return of


def test_exceptions_are_few_and_have_reasons() -> None:
    assert len(EXCEPTIONS) <= 12
    assert all(len(each["reason"]) > 10 for each in EXCEPTIONS)


@pytest.mark.parametrize(("name", "path"), drawn(), ids=lambda each: str(each))
def test_a_field_left_out_lifts_no_refusal(verdict, name: str, path: Where) -> None:
    text = (ROOT / "scenarios" / f"{name}.yaml").read_text("utf-8")
    document = yaml.load(text, yaml.BaseLoader)
    left = verdict(without(document, path))
    if left is None:
        return  # refused as wrong input
    whole = verdict(yaml.dump(document, sort_keys=False))
    # Between "may proceed" and "with conditions" a condition of the left-out thing may go.
    assert left >= whole or whole < 2


def test_what_goes_is_seen(verdict) -> None:
    """The comparison can fail: without what is dangerous a refusal is lifted."""
    text = (ROOT / "scenarios" / "diethyl_ether_on_a_hot_plate.yaml").read_text("utf-8")
    document = yaml.load(text, yaml.BaseLoader)
    whole = verdict(yaml.dump(document, sort_keys=False))
    mild = "title: t\ntrain: [{id: a, kind: outlet, to: outdoors, inner_diameter: 4 mm}]\n"
    assert verdict(mild) < whole
