"""In which respects a layer is milder than what it stands on, and what rulesets differ in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields as fields_of

from review.interface.plugin import Kind
from review.interface.result import Grade, Loosened
from review.judge.conditions import Condition, RulesetError
from review.judge.layers import Entry
from review.judge.marked import read_text
from review.judge.ruleset import Criterion, Ruleset

#: From mild to strict; a presence rule and a floor name one of these.
_STRICTNESS: tuple[Grade, ...] = ("acceptable", "tolerable", "unacceptable")


def loosenings(old: Criterion, new: Criterion, kinds: Mapping[str, Kind]) -> list[str]:
    """In which respects `new` is milder than `old`, or may be."""
    what = [f"no longer judged in case {case}" for case in old.cases if case not in new.cases]
    for case in old.cases:
        if case not in new.cases:
            continue
        kind = kinds.get(old.kind)
        if kind is None:
            continue
        (mild, last), (new_mild, new_last) = (each.bands[case].edges(kind) for each in (old, new))
        if new_mild is not None and (mild is None or new_mild > mild):
            what.append(f"acceptable edge is milder in case {case}")
        if new_last > last:
            what.append(f"unacceptable begins later in case {case}")
    if new.applies is not None and (old.applies is None or old.applies.text != new.applies.text):
        what.append("applies changed")
    if old.require is not None and new.require is not None and old.require.text != new.require.text:
        what.append("require changed")
    for key in ("floor", "otherwise"):
        if _STRICTNESS.index(getattr(new, key)) < _STRICTNESS.index(getattr(old, key)):
            what.append(f"{key} is milder")
    if old.blocks and not new.blocks:
        what.append("what can't be told no longer blocks")
    if new.disabled and not old.disabled:
        what.append("disabled")
    return what


def reasoned(entry: Entry) -> bool:
    return "reason" in entry.fields


def accounted(entry: Entry, what: Sequence[str], layer: str) -> list[Loosened]:
    """The record of a loosening; one without a written reason is an error."""
    if what and not reasoned(entry):
        raise RulesetError.at(
            entry.place, f"{entry.id!r} is loosened and needs a reason: {'; '.join(what)}"
        )
    return [Loosened(entry.id, layer, w, read_text(entry.fields["reason"], "reason")) for w in what]


def differences(plain: Ruleset, effective: Ruleset) -> Iterator[str]:
    """What an effective ruleset adds to a plain one or changes in it, in words, a line each."""
    before = {criterion.id: criterion for criterion in plain.criteria}
    for criterion in effective.criteria:
        old = before.get(criterion.id)
        if old is None:
            yield f"{criterion.id} is added by {criterion.layer}"
            continue
        changed = [
            f.name.replace("_", " ")
            for f in fields_of(criterion)
            if f.name not in ("layer", "place")
            and _plain(getattr(old, f.name)) != _plain(getattr(criterion, f.name))
        ]
        if changed:
            yield f"{criterion.id} is changed by {criterion.layer}: {', '.join(changed)}"
    for name, limit in effective.limits.items():
        known = plain.limits.get(name)
        if known is None:
            yield f"limit {name} is set to {limit.value:g} by {limit.layer}"
        elif known.value != limit.value:
            yield f"limit {name} is {limit.value:g} instead of {known.value:g} by {limit.layer}"


def _plain(value: object) -> object:
    return value.text if isinstance(value, Condition) else value
