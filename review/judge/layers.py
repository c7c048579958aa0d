"""Rulesets: YAML layers of criteria and limits, checked, merged and frozen.

Layers combine by id in the order built-in, plugin, site. A later entry with the same id changes
only the fields it gives (`bands`, `bands_in` and `basis` are one field each). Making a criterion
stricter is free; making it milder needs a written ``reason``, which every report shows. Whatever
is malformed is an error with file and line, and then nothing of any layer is applied.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import fields as fields_of
from pathlib import Path
from types import MappingProxyType
from typing import Literal, cast, get_args

from review.interface.plugin import Kind, worst_first
from review.interface.result import CASES, Basis, Case, Grade, LayerInfo, Loosened
from review.judge.conditions import (
    Condition,
    Place,
    RulesetError,
    Vocabulary,
    compile_condition,
    nearest,
)
from review.judge.marked import (
    NUMBER,
    Marked,
    collected,
    compose,
    read_choice,
    read_fields,
    read_grade,
    read_items,
    read_mapping,
    read_number,
    read_text,
    read_yes,
)

Rank = Literal["built-in", "plugin", "site"]
RANKS: tuple[Rank, ...] = get_args(Rank)

DEFAULT_CASES: tuple[Case, ...] = ("plan", "step", "upset")
#: Ignition, breathing and bursting: what can't be told here always blocks.
MUST_BLOCK = ("flammability.", "ignition.", "exposure.", "oxygen.", "pressure.")

_ID = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)+")
_FILE_KEYS = ("name", "criteria", "limits", "contacts")
_BANDED_KEYS = ("kind", "cases", "bands", "bands_in", "floor")
_PRESENCE_KEYS = ("require", "otherwise")
_CRITERION_KEYS = (
    *("id", "title", "applies", "applies_reason", "action", "basis", "if_undetermined"),
    *("disabled", "reason", *_BANDED_KEYS, *_PRESENCE_KEYS),
)
_LIMIT_KEYS = ("value", "source", "how", "safer", "reason")
#: From mild to strict; a presence rule and a floor name one of these.
_STRICTNESS: tuple[Grade, ...] = ("acceptable", "tolerable", "unacceptable")

@dataclass(frozen=True, slots=True)
class Bands:
    """The edges of the bands, in the kind's SI unit; both edges belong to the milder grade.

    Without `acceptable` nothing is acceptable; without `tolerable` nothing is tolerable and what
    lies beyond `acceptable` is unacceptable.
    """

    acceptable: float | None
    tolerable: float | None

    def edges(self, kind: Kind) -> tuple[float | None, float]:
        """Both edges signed so that larger is more hazardous; the first None: never acceptable."""
        last = self.acceptable if self.tolerable is None else self.tolerable
        mild = self.acceptable
        return (
            None if mild is None else float(worst_first(kind, mild)),
            float(worst_first(kind, last)),
        )


@dataclass(frozen=True, slots=True)
class Criterion:
    """One effective criterion: either `kind` with `bands` per case, or `require`.

    `floor` is the best grade it may give; `otherwise` the grade when `require` does not hold.
    `blocks` is false where an undetermined finding becomes the condition `condition`. `layer` is
    the last layer that touched it, `place` where that stands.
    """

    id: str
    title: str
    kind: str
    cases: tuple[Case, ...]
    bands: Mapping[Case, Bands]
    floor: Grade
    require: Condition | None
    otherwise: Grade
    applies: Condition | None
    applies_reason: str
    action: str
    basis: Basis
    blocks: bool
    condition: str
    disabled: bool
    disabled_reason: str
    layer: str
    place: Place


@dataclass(frozen=True, slots=True)
class Limit:
    """One figure that checks read, with where it comes from and how it is known."""

    value: float
    source: str
    how: str
    layer: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a layer as written; only a merge knows what it means."""

    id: str
    place: Place
    fields: Mapping[str, Marked]


@dataclass(frozen=True, slots=True)
class Layer:
    """One ruleset file as read."""

    name: str
    rank: Rank
    sha256: str
    criteria: tuple[Entry, ...]
    limits: tuple[Entry, ...]
    contacts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ruleset:
    """What judges: criteria in the order of their ids, limits, and where all of it comes from."""

    criteria: tuple[Criterion, ...]
    limits: Mapping[str, Limit]
    layers: tuple[LayerInfo, ...]
    loosened: tuple[Loosened, ...] = ()
    contacts: tuple[str, ...] = ()

    def limits_hash(self, names: Iterable[str]) -> str:
        """SHA-256 over the values of the named limits; a limit nobody gives counts as missing."""
        lines = [
            f"{name}={self.limits[name].value!r}" if name in self.limits else f"{name}=missing"
            for name in sorted(set(names))
        ]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def load_layer(source: Path | str, name: str, rank: Rank = "site") -> Layer:
    """Read one layer from a file (`Path`) or from text (`str`).

    Checks everything that needs no other layer and raises one `RulesetError` with all problems.
    `name` is used unless the file gives its own; the text's places are printed as ``name:line``.
    """
    file = str(source) if isinstance(source, Path) else name
    try:
        text = source.read_text("utf-8") if isinstance(source, Path) else source
    except (OSError, UnicodeDecodeError) as error:
        raise RulesetError(file, 1, f"can't be read: {error}") from None
    top = compose(text, file)
    fields = read_fields(top, _FILE_KEYS, "a ruleset")
    problems: list[RulesetError] = []
    criteria: list[Entry] = []
    limits: list[Entry] = []
    contacts: list[str] = []
    with collected(problems):
        for item in read_items(fields.get("criteria"), "criteria"):
            with collected(problems):
                criteria.append(_criterion_entry(item))
        _check_duplicates(criteria, "criterion")
    with collected(problems):
        if "limits" in fields:
            for key, node in read_mapping(fields["limits"], "limits").items():
                with collected(problems):
                    inner = read_fields(node, _LIMIT_KEYS, f"limit {key!r}")
                    limits.append(Entry(key, node.place, inner))
    with collected(problems):
        given = read_items(fields.get("contacts"), "contacts")
        contacts += [read_text(each, "contacts") for each in given]
    with collected(problems):
        name = read_text(fields["name"], "name") if "name" in fields else name
    if problems:
        raise RulesetError.joined(problems)
    digest = hashlib.sha256(text.encode()).hexdigest()
    return Layer(name, rank, digest, tuple(criteria), tuple(limits), tuple(contacts))


def merge(layers: Sequence[Layer], vocabulary: Vocabulary, kinds: Mapping[str, Kind]) -> Ruleset:
    """Combine the layers into one ruleset; raises one `RulesetError` with all problems.

    The order of `layers` does not matter: built-in comes before plugin before site, and two layers
    of one rank may not define the same id. All conditions are compiled here.
    """
    ordered = sorted(layers, key=lambda each: (RANKS.index(each.rank), each.name, each.sha256))
    problems: list[RulesetError] = []
    for rank in RANKS:
        same = [layer for layer in ordered if layer.rank == rank]
        with collected(problems):
            _check_duplicates([entry for each in same for entry in each.criteria], "criterion")
        with collected(problems):
            _check_duplicates([entry for each in same for entry in each.limits], "limit")
    written: dict[str, Mapping[str, Marked]] = {}
    criteria: dict[str, Criterion] = {}
    limits: dict[str, tuple[Limit, str]] = {}
    loosened: list[Loosened] = []
    for layer in ordered:
        for entry in layer.criteria:
            with collected(problems):
                old = criteria.get(entry.id)
                fields = {**written.get(entry.id, {}), **entry.fields}
                _check_complete(entry, fields, written)
                new = _criterion(entry, fields, old, vocabulary, kinds, layer.name)
                if old is not None:
                    loosened += _accounted(entry, _loosenings(old, new, kinds), layer.name)
                criteria[entry.id], written[entry.id] = new, fields
        for entry in layer.limits:
            with collected(problems):
                limits[entry.id], what = _limit(entry, limits.get(entry.id), layer.name)
                loosened += _accounted(entry, what, layer.name)
    if problems:
        raise RulesetError.joined(problems)
    return Ruleset(
        criteria=tuple(criteria[id] for id in sorted(criteria)),
        limits=MappingProxyType({name: limits[name][0] for name in sorted(limits)}),
        layers=tuple(LayerInfo(layer.name, layer.sha256) for layer in ordered),
        loosened=tuple(loosened),
        contacts=tuple(line for layer in ordered for line in layer.contacts),
    )


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
    foreign = _PRESENCE_KEYS if "kind" in fields else _BANDED_KEYS
    for key in foreign:
        if key in fields:
            sort = "kind" if "kind" in fields else "require"
            raise RulesetError.at(fields[key].place, f"{label}: {key} does not go with {sort}")


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
        disabled_reason = read_text(entry.fields["reason"], "reason") if _reasoned(entry) else ""
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


def _loosenings(old: Criterion, new: Criterion, kinds: Mapping[str, Kind]) -> list[str]:
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


def _limit(
    entry: Entry, old: tuple[Limit, str] | None, layer: str
) -> tuple[tuple[Limit, str], list[str]]:
    """The limit, its safer direction, and how it is loosened."""
    given, label = entry.fields, f"limit {entry.id!r}"
    lacking = [key for key in ("value", "source", "how") if key not in given]
    if lacking and (old is None or "value" in given):
        raise RulesetError.at(entry.place, f"{label} lacks {', '.join(lacking)}")
    safer = read_choice(given["safer"], ("lower", "higher"), "safer") if "safer" in given else ""
    if old is None:
        value = read_number(given["value"], "value")
    else:
        if safer and safer != old[1]:
            raise RulesetError.at(
                entry.place, f"{label}: only the layer that defines a limit says what is safer"
            )
        safer = old[1]
        value = read_number(given["value"], "value") if "value" in given else old[0].value
    limit = Limit(
        value,
        read_text(given["source"], "source") if "source" in given or old is None else old[0].source,
        read_text(given["how"], "how") if "how" in given or old is None else old[0].how,
        layer,
    )
    what = []
    if old is not None and value != old[0].value:
        went = "lower" if value < old[0].value else "higher"
        if went != safer:
            what.append(f"limit moved from {old[0].value:g} to {value:g}")
    return (limit, safer), what


def _reasoned(entry: Entry) -> bool:
    return "reason" in entry.fields


def _accounted(entry: Entry, what: Sequence[str], layer: str) -> list[Loosened]:
    """The record of a loosening; one without a written reason is an error."""
    if what and not _reasoned(entry):
        raise RulesetError.at(
            entry.place, f"{entry.id!r} is loosened and needs a reason: {'; '.join(what)}"
        )
    return [Loosened(entry.id, layer, w, read_text(entry.fields["reason"], "reason")) for w in what]


def _criterion_entry(node: Marked) -> Entry:
    fields = read_fields(node, _CRITERION_KEYS, "a criterion")
    if "id" not in fields:
        raise RulesetError.at(node.place, "a criterion lacks its id")
    name = read_text(fields["id"], "id")
    if not _ID.fullmatch(name):
        raise RulesetError.at(
            fields["id"].place, f"id {name!r}: dotted lower-case name expected, 'group.name'"
        )
    return Entry(name, node.place, fields)


def _check_duplicates(entries: Iterable[Entry], what: str) -> None:
    first: dict[str, Place] = {}
    for entry in entries:
        if entry.id in first:
            raise RulesetError.at(
                entry.place, f"{what} {entry.id!r} is already defined at {first[entry.id]}"
            )
        first[entry.id] = entry.place


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
