"""A file with wrong values, mended so far that names and data can be looked at in the rest.

Whatever is found in a mended scenario is only told beside what was wrong with the file; nothing is
ever reviewed with it.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import ValidationError

from review.scenario import units
from review.scenario.fields import Dim, asked
from review.scenario.keys import field_at, known, nearest_of, without_none
from review.scenario.models import Scenario
from review.scenario.words import OfList, Words
from review.scenario.yaml import Document, Where

#: Rounds of mending; each may bring to light what a wrong value hid.
ROUNDS = 4
#: Text for a field whose own is wrong; nothing that is found about it is told.
FILLED = "\N{HORIZONTAL ELLIPSIS}"
#: What a trade size that nobody knows would have said.
SIZED = {"inner_diameter": "10 mm", "wall": "1 mm", "capacity": "250 mL"}


def mended(document: Document, words: Words | None) -> Scenario | None:
    """The scenario with each wrong value dropped or replaced by a right one; None if that fails."""
    data = copy.deepcopy(document.data)
    for _ in range(ROUNDS):
        try:
            scenario = Scenario.model_validate(data, context=asked(data, words))
        except ValidationError as error:
            for detail in error.errors(include_url=False):
                if not _mend(data, detail["loc"], detail["type"]):
                    return None
        else:
            scenario._document = document
            return scenario
    return None


def _mend(data: Any, path: Where, kind: str) -> bool:
    if not path:
        return False
    *above, last = path[:-1] if path[-1] == "[key]" else path
    for part in above:
        try:
            data = data[part]
        except (LookupError, TypeError):
            return True  # mended already with what stands above it
    if kind == "extra_forbidden" or path[-1] == "[key]":
        if not isinstance(data, dict) or last not in data:
            return False
        value, meant = data.pop(last), nearest_of(str(last), known(path[:-1]))
        if meant and kind == "extra_forbidden" and not isinstance(value, dict | list):
            data.setdefault(meant, value)
        return True
    if last == "size" and isinstance(data, dict):
        data.pop(last)
        for key, value in SIZED.items():
            data.setdefault(key, value)
        return True
    right = _example(field_at(path))
    if right is None:
        return isinstance(data, dict) and data.pop(str(last), None) is not None
    if isinstance(data, list) and isinstance(last, int) and last < len(data):
        data[last] = right
    elif isinstance(data, dict):
        data[str(last)] = right
    else:
        return False
    return True


def _example(field: tuple[Any, tuple[Any, ...]]) -> Any:
    """A right value for a field; None where the key had better be dropped."""
    annotation, metadata = field
    for part in _parts(annotation):
        if get_origin(part) is Annotated:
            annotation, metadata = get_args(part)[0], (*metadata, *get_args(part)[1:])
    for mark in metadata:
        if isinstance(mark, Dim):
            return units.SPECS[mark.dimension].example
        if isinstance(mark, OfList):
            return Words.built_in().list(mark.kind)[0].name
    kind = without_none(annotation)
    if get_origin(kind) is Literal:
        return get_args(kind)[0]
    return FILLED if kind is str else None


def _parts(annotation: Any) -> Iterator[Any]:
    yield annotation
    if get_origin(annotation) not in (dict, list, Annotated, Literal):
        yield from get_args(annotation)
