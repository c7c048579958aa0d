"""Rulesets merged: layers combined by id in the order built-in, plugin, site.

A later entry with the same id changes only the fields it gives (`bands`, `bands_in` and `basis` are
one field each). Making a criterion stricter is free; making it milder needs a written ``reason``,
which every report shows. Where anything is wrong, nothing of any layer is applied.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import cast

from review.interface.plugin import Kind
from review.interface.result import CASES, Basis, Case, LayerInfo, Letter, Loosened
from review.judge.conditions import (
    Condition,
    RulesetError,
    Vocabulary,
    compile_condition,
    nearest,
)
from review.judge.layers import (
    BANDED_KEYS,
    PRESENCE_KEYS,
    RANKS,
    Entry,
    Layer,
    check_duplicates,
)
from review.judge.letters import read_letter
from review.judge.limits import Limits, Published
from review.judge.loosening import accounted, loosenings, reasoned
from review.judge.marked import (
    NUMBER,
    Marked,
    collected,
    read_choice,
    read_fields,
    read_grade,
    read_items,
    read_mapping,
    read_number,
    read_text,
    read_yes,
)
from review.judge.ruleset import MUST_BLOCK, Bands, Criterion, Ruleset

DEFAULT_CASES: tuple[Case, ...] = ("plan", "step", "upset")


def merge(
    layers: Sequence[Layer],
    vocabulary: Vocabulary,
    kinds: Mapping[str, Kind],
    read: Collection[str] = (),
    published: Published | None = None,
) -> Ruleset:
    """Combine the layers into one ruleset; raises one `RulesetError` with all problems.

    The order of `layers` does not matter: built-in comes before plugin before site, and two layers
    of one rank may not define the same id. All conditions are compiled here. `read` are the limits
    that checks read, `published` what substance files say (see `review.judge.limits`).
    """
    ordered = sorted(layers, key=lambda each: (RANKS.index(each.rank), each.name, each.sha256))
    problems: list[RulesetError] = []
    for rank in RANKS:
        same = [layer for layer in ordered if layer.rank == rank]
        with collected(problems):
            check_duplicates([entry for each in same for entry in each.criteria], "criterion")
        with collected(problems):
            check_duplicates([entry for each in same for entry in each.limits], "limit")
    written: dict[str, Mapping[str, Marked]] = {}
    criteria: dict[str, Criterion] = {}
    limits = Limits(read, published)
    letters: dict[str, Letter] = {}
    loosened: list[Loosened] = []
    for layer in ordered:
        for entry in layer.criteria:
            with collected(problems):
                old = criteria.get(entry.id)
                fields = {**written.get(entry.id, {}), **entry.fields}
                _check_complete(entry, fields, written)
                if old is not None and old.kind:
                    _check_bound(entry, written[entry.id], kinds)
                new = _criterion(entry, fields, old, vocabulary, kinds, layer.name)
                if old is not None:
                    loosened += accounted(entry, loosenings(old, new, kinds), layer.name)
                criteria[entry.id], written[entry.id] = new, fields
        for entry in layer.limits:
            with collected(problems):
                loosened += limits.add(entry, layer.rank, layer.name)
        for entry in layer.letters:
            with collected(problems):
                letters[entry.id] = read_letter(entry, letters.get(entry.id), kinds)
    if problems:
        raise RulesetError.joined(problems)
    return Ruleset(
        criteria=tuple(criteria[id] for id in sorted(criteria)),
        limits=MappingProxyType({name: limits.known[name] for name in sorted(limits.known)}),
        layers=tuple(LayerInfo(layer.name, layer.sha256, layer.rank) for layer in ordered),
        loosened=tuple(loosened),
        contacts=tuple(line for layer in ordered for line in layer.contacts),
        letters=MappingProxyType(letters),
        reviewers=_in_every_list(ordered),
    )


def _in_every_list(layers: Iterable[Layer]) -> tuple[str, ...]:
    """The reviewers that every layer lists which lists any; a layer never adds to another's."""
    lists = [layer.reviewers for layer in layers if layer.reviewers]
    if not lists:
        return ()
    common = [key for key in lists[0] if all(key in each for each in lists)]
    return tuple(common) or ("none is in every list",)


def _check_complete(
    entry: Entry, fields: Mapping[str, Marked], known: Mapping[str, Mapping[str, Marked]]
) -> None:
    """A criterion has all it needs, and only what belongs to its sort."""
    label = f"criterion {entry.id!r}"
    if ("kind" in fields) == ("require" in fields):
        missing = [] if "kind" in fields else ["kind (or require)"]
        if not missing:
            raise RulesetError.at(entry.place, f"{label} has both kind and require")
    else:
        missing = []
    needed = ("title", "action", "basis", *(("bands",) if "kind" in fields else ()))
    missing += [key for key in needed if key not in fields]
    if missing:
        hint = "" if entry.id in known else nearest(entry.id, known)
        text = f"{label} lacks {', '.join(missing)}"
        if entry.id not in known:
            text += f", and no earlier layer defines it{hint}"
        raise RulesetError.at(entry.place, text)
    foreign = PRESENCE_KEYS if "kind" in fields else BANDED_KEYS
    for key in foreign:
        if key in fields:
            sort = "kind" if "kind" in fields else "require"
            raise RulesetError.at(fields[key].place, f"{label}: {key} does not go with {sort}")


def _check_bound(entry: Entry, below: Mapping[str, Marked], kinds: Mapping[str, Kind]) -> None:
    """Stricter bands that leave the lower layer's bands of single cases must say so.

    Else what a site made stricter would not hold where it matters most: after a failure.
    """
    given, kind = entry.fields, kinds.get(read_text(below["kind"], "kind"))
    if kind is None or not {"bands", "bands_in"} <= below.keys() or "bands" not in given:
        return
    (mild, last), (new_mild, new_last) = (
        _bands(fields["bands"], kind).edges(kind) for fields in (below, given)
    )
    same = new_mild is None if mild is None else new_mild is not None and new_mild >= mild
    if "bands_in" not in given and not (same and new_last >= last):
        cases = ", ".join(read_mapping(below["bands_in"], "bands_in"))
        raise RulesetError.at(
            given["bands"].place,
            f"criterion {entry.id!r}: stricter bands would leave case {cases} as it was; give "
            "bands_in too (bands_in: {} lets bands hold in every case)",
        )


def _criterion(
    entry: Entry,
    fields: Mapping[str, Marked],
    old: Criterion | None,
    vocabulary: Vocabulary,
    kinds: Mapping[str, Kind],
    layer: str,
) -> Criterion:
    """The criterion that an entry and the earlier layers make together."""

    def text(key: str, default: str = "") -> str:
        return read_text(fields[key], key) if key in fields else default

    def condition(key: str) -> Condition | None:
        if text(key, "true").strip() == "true":
            return None
        return compile_condition(text(key), vocabulary, fields[key].place)

    kind_id = text("kind")
    cases: tuple[Case, ...] = DEFAULT_CASES
    bands: Mapping[Case, Bands] = {}
    if "kind" in fields:
        if kind_id not in kinds:
            raise RulesetError.at(
                fields["kind"].place, f"{kind_id!r} is no known kind{nearest(kind_id, kinds)}"
            )
        if old is not None and old.kind != kind_id:
            raise RulesetError.at(entry.place, "a later layer can't change the kind; use a new id")
        if "cases" in fields:
            listed = read_items(fields["cases"], "cases")
            named = {read_choice(each, CASES, "case") for each in listed}
            if not named:
                raise RulesetError.at(fields["cases"].place, "cases is empty; use disabled: yes")
            cases = tuple(case for case in CASES if case in named)
        bands = _all_bands(fields, kinds[kind_id], cases)
    require = None
    if "require" in fields:
        require = compile_condition(text("require"), vocabulary, fields["require"].place)
    blocks, open_condition = _if_undetermined(fields.get("if_undetermined"))
    if not blocks and any(each.startswith(MUST_BLOCK) for each in (entry.id, kind_id)):
        raise RulesetError.at(
            fields["if_undetermined"].place,
            f"criterion {entry.id!r} is about ignition, breathing or bursting; what can't be told "
            "there must block",
        )
    disabled = read_yes(fields["disabled"], "disabled") if "disabled" in fields else False
    disabled_reason = old.disabled_reason if old is not None else ""
    if "disabled" in entry.fields:
        disabled_reason = read_text(entry.fields["reason"], "reason") if reasoned(entry) else ""
        if disabled and not disabled_reason:
            raise RulesetError.at(entry.place, f"criterion {entry.id!r}: disabled needs a reason")
    return Criterion(
        id=entry.id,
        title=text("title"),
        kind=kind_id,
        cases=cases,
        bands=bands,
        floor=read_grade(fields.get("floor"), ("acceptable", "tolerable"), "acceptable", "floor"),
        require=require,
        otherwise=read_grade(
            fields.get("otherwise"), ("tolerable", "unacceptable"), "unacceptable", "otherwise"
        ),
        applies=condition("applies"),
        applies_reason=text("applies_reason"),
        action=text("action"),
        basis=_basis(fields["basis"]),
        blocks=blocks,
        condition=open_condition,
        disabled=disabled,
        disabled_reason=disabled_reason if disabled else "",
        layer=layer,
        place=entry.place,
    )


def _all_bands(
    fields: Mapping[str, Marked], kind: Kind, cases: Sequence[Case]
) -> Mapping[Case, Bands]:
    usual = _bands(fields["bands"], kind)
    bands: dict[Case, Bands] = dict.fromkeys(CASES, usual)
    if "bands_in" in fields:
        for key, node in read_fields(fields["bands_in"], CASES, "bands_in").items():
            if key not in cases:
                raise RulesetError.at(node.place, f"bands_in names {key}, which is not in cases")
            bands[cast(Case, key)] = _bands(node, kind)
    return MappingProxyType(bands)


def _bands(node: Marked, kind: Kind) -> Bands:
    given = read_fields(node, ("acceptable", "tolerable"), "bands")
    if not given:
        raise RulesetError.at(node.place, "bands gives no edge")
    edge = {key: _edge(value, kind, key) for key, value in given.items()}
    bands = Bands(edge.get("acceptable"), edge.get("tolerable"))
    mild, last = bands.edges(kind)
    if mild is not None and mild > last:
        raise RulesetError.at(
            node.place,
            f"the acceptable edge lies beyond the tolerable one ({kind.id}: worse is {kind.worse})",
        )
    return bands


def _edge(node: Marked, kind: Kind, what: str) -> float:
    text = read_text(node, what)
    if text in kind.labels:
        return float(kind.labels.index(text))
    if kind.labels and not NUMBER.fullmatch(text):
        hint = nearest(text, kind.labels) or f"; labels: {', '.join(kind.labels)}"
        raise RulesetError.at(node.place, f"{text!r} is no label of {kind.id}{hint}")
    return read_number(node, what)


def _if_undetermined(node: Marked | None) -> tuple[bool, str]:
    if node is None:
        return True, ""
    if isinstance(node.value, str):
        read_choice(node, ("block",), "if_undetermined")
        return True, ""
    given = read_fields(node, ("condition",), "if_undetermined")
    if "condition" not in given:
        raise RulesetError.at(node.place, "if_undetermined: write block or {condition: reason}")
    return False, read_text(given["condition"], "condition")


def _basis(node: Marked) -> Basis:
    given = read_fields(node, ("document", "clause", "how"), "basis")
    for key in ("document", "how"):
        if key not in given:
            raise RulesetError.at(node.place, f"basis lacks {key}")
    clause = given["clause"].value if "clause" in given else ""
    return Basis(
        read_text(given["document"], "document"),
        clause if isinstance(clause, str) else read_text(given["clause"], "clause"),
        read_text(given["how"], "how"),
    )
