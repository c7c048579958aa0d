"""Rulesets: YAML layers of criteria and limits, checked, merged and frozen.

Layers combine by id in the order built-in, plugin, site. A later entry with the same id changes
only the fields it gives (`bands`, `bands_in` and `basis` are one field each). Making a criterion
stricter is free; making it milder needs a written ``reason``, which every report shows. Whatever
is malformed is an error with file and line, and then nothing of any layer is applied.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal, TypeVar, cast, get_args

import yaml

from review.conditions import (
    Condition,
    Place,
    RulesetError,
    Vocabulary,
    compile_condition,
    nearest,
)
from review.plugin import Kind, worst_first
from review.result import CASES, Basis, Case, Grade, LayerInfo, Loosened

Rank = Literal["built-in", "plugin", "site"]
RANKS: tuple[Rank, ...] = get_args(Rank)

DEFAULT_CASES: tuple[Case, ...] = ("plan", "step", "upset")
#: Ignition, breathing and bursting: what can't be told here always blocks.
MUST_BLOCK = ("flammability.", "ignition.", "exposure.", "oxygen.", "pressure.")

_ID = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)+")
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
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

T = TypeVar("T")


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
class Marked:
    """A piece of YAML with its place; scalars stay text."""

    value: str | tuple[Marked, ...] | Mapping[str, Marked]
    place: Place


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
    top = _compose(text, file)
    fields = _fields(top, _FILE_KEYS, "a ruleset")
    problems: list[RulesetError] = []
    criteria: list[Entry] = []
    limits: list[Entry] = []
    contacts: list[str] = []
    with _collected(problems):
        for item in _items(fields.get("criteria"), "criteria"):
            with _collected(problems):
                criteria.append(_criterion_entry(item))
        _check_duplicates(criteria, "criterion")
    with _collected(problems):
        if "limits" in fields:
            for key, node in _mapping(fields["limits"], "limits").items():
                with _collected(problems):
                    inner = _fields(node, _LIMIT_KEYS, f"limit {key!r}")
                    limits.append(Entry(key, node.place, inner))
    with _collected(problems):
        contacts += [_text(each, "contacts") for each in _items(fields.get("contacts"), "contacts")]
    with _collected(problems):
        name = _text(fields["name"], "name") if "name" in fields else name
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
        with _collected(problems):
            _check_duplicates([entry for each in same for entry in each.criteria], "criterion")
        with _collected(problems):
            _check_duplicates([entry for each in same for entry in each.limits], "limit")
    written: dict[str, Mapping[str, Marked]] = {}
    criteria: dict[str, Criterion] = {}
    limits: dict[str, tuple[Limit, str]] = {}
    loosened: list[Loosened] = []
    for layer in ordered:
        for entry in layer.criteria:
            with _collected(problems):
                old = criteria.get(entry.id)
                fields = {**written.get(entry.id, {}), **entry.fields}
                _check_complete(entry, fields, written)
                new = _criterion(entry, fields, old, vocabulary, kinds, layer.name)
                if old is not None:
                    loosened += _accounted(entry, _loosenings(old, new, kinds), layer.name)
                criteria[entry.id], written[entry.id] = new, fields
        for entry in layer.limits:
            with _collected(problems):
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
        return _text(fields[key], key) if key in fields else default

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
            named = {_choice(each, CASES, "case") for each in _items(fields["cases"], "cases")}
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
    disabled = _yes(fields["disabled"], "disabled") if "disabled" in fields else False
    disabled_reason = old.disabled_reason if old is not None else ""
    if "disabled" in entry.fields:
        disabled_reason = _text(entry.fields["reason"], "reason") if _reasoned(entry) else ""
        if disabled and not disabled_reason:
            raise RulesetError.at(entry.place, f"criterion {entry.id!r}: disabled needs a reason")
    return Criterion(
        id=entry.id,
        title=text("title"),
        kind=kind_id,
        cases=cases,
        bands=bands,
        floor=_grade(fields.get("floor"), ("acceptable", "tolerable"), "acceptable", "floor"),
        require=require,
        otherwise=_grade(
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
        for key, node in _fields(fields["bands_in"], CASES, "bands_in").items():
            if key not in cases:
                raise RulesetError.at(node.place, f"bands_in names {key}, which is not in cases")
            bands[cast(Case, key)] = _bands(node, kind)
    return MappingProxyType(bands)


def _bands(node: Marked, kind: Kind) -> Bands:
    given = _fields(node, ("acceptable", "tolerable"), "bands")
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
    text = _text(node, what)
    if text in kind.labels:
        return float(kind.labels.index(text))
    if kind.labels and not _NUMBER.fullmatch(text):
        hint = nearest(text, kind.labels) or f"; labels: {', '.join(kind.labels)}"
        raise RulesetError.at(node.place, f"{text!r} is no label of {kind.id}{hint}")
    return _number(node, what)


def _if_undetermined(node: Marked | None) -> tuple[bool, str]:
    if node is None:
        return True, ""
    if isinstance(node.value, str):
        _choice(node, ("block",), "if_undetermined")
        return True, ""
    given = _fields(node, ("condition",), "if_undetermined")
    if "condition" not in given:
        raise RulesetError.at(node.place, "if_undetermined: write block or {condition: reason}")
    return False, _text(given["condition"], "condition")


def _basis(node: Marked) -> Basis:
    given = _fields(node, ("document", "clause", "how"), "basis")
    for key in ("document", "how"):
        if key not in given:
            raise RulesetError.at(node.place, f"basis lacks {key}")
    clause = given["clause"].value if "clause" in given else ""
    return Basis(
        _text(given["document"], "document"),
        clause if isinstance(clause, str) else _text(given["clause"], "clause"),
        _text(given["how"], "how"),
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
    safer = _choice(given["safer"], ("lower", "higher"), "safer") if "safer" in given else ""
    if old is None:
        value = _number(given["value"], "value")
    else:
        if safer and safer != old[1]:
            raise RulesetError.at(
                entry.place, f"{label}: only the layer that defines a limit says what is safer"
            )
        safer = old[1]
        value = _number(given["value"], "value") if "value" in given else old[0].value
    limit = Limit(
        value,
        _text(given["source"], "source") if "source" in given or old is None else old[0].source,
        _text(given["how"], "how") if "how" in given or old is None else old[0].how,
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
    return [Loosened(entry.id, layer, w, _text(entry.fields["reason"], "reason")) for w in what]


def _criterion_entry(node: Marked) -> Entry:
    fields = _fields(node, _CRITERION_KEYS, "a criterion")
    if "id" not in fields:
        raise RulesetError.at(node.place, "a criterion lacks its id")
    name = _text(fields["id"], "id")
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


# The marked reader: YAML composed to nodes, every scalar kept as text with its line.


@contextmanager
def _collected(problems: list[RulesetError]) -> Iterator[None]:
    """Note a problem and go on after the block, so that all are told at once."""
    try:
        yield
    except RulesetError as error:
        problems.append(error)


def _compose(text: str, file: str) -> Marked:
    try:
        root = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
        if root is None:
            raise RulesetError(file, 1, "is empty")
        return _marked(root, file, set())
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = 1 if mark is None else mark.line + 1
        raise RulesetError(file, line, f"is no YAML: {error.problem or error.context}") from None
    except (yaml.YAMLError, RecursionError) as error:
        raise RulesetError(file, 1, f"is no YAML: {error}") from None


def _marked(node: yaml.Node, file: str, seen: set[int]) -> Marked:
    place = Place(file, node.start_mark.line + 1)
    if id(node) in seen:
        raise RulesetError.at(place, "anchors and aliases are not used in rulesets")
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        return Marked(str(node.value), place)
    if isinstance(node, yaml.SequenceNode):
        return Marked(tuple(_marked(each, file, seen) for each in node.value), place)
    entries: dict[str, Marked] = {}
    lines: dict[str, int] = {}
    for key_node, value_node in node.value:
        line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            raise RulesetError(file, line, "a key must be plain text")
        key = str(key_node.value)
        if key in entries:
            raise RulesetError(file, line, f"key {key!r} is already given in line {lines[key]}")
        lines[key] = line
        # The key's line, because a block value begins on the line after it.
        entries[key] = replace(_marked(value_node, file, seen), place=Place(file, line))
    return Marked(entries, place)


def _mapping(node: Marked, what: str) -> Mapping[str, Marked]:
    if not isinstance(node.value, Mapping):
        raise RulesetError.at(node.place, f"{what} must be a mapping, 'key: value'")
    return node.value


def _fields(node: Marked, allowed: Sequence[str], what: str) -> Mapping[str, Marked]:
    """A mapping whose keys are all known; names every unknown key."""
    fields = _mapping(node, what)
    unknown = [
        RulesetError.at(fields[key].place, f"{what} has no key {key!r}{nearest(key, allowed)}")
        for key in fields
        if key not in allowed
    ]
    if unknown:
        raise RulesetError.joined(unknown)
    return fields


def _items(node: Marked | None, what: str) -> tuple[Marked, ...]:
    if node is None:
        return ()
    if not isinstance(node.value, tuple):
        raise RulesetError.at(node.place, f"{what} must be a list")
    return node.value


def _text(node: Marked, what: str) -> str:
    if not isinstance(node.value, str):
        raise RulesetError.at(node.place, f"{what} must be text")
    if not node.value.strip():
        raise RulesetError.at(node.place, f"{what} is blank")
    return node.value.strip()


def _number(node: Marked, what: str) -> float:
    text = _text(node, what)
    number = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not math.isfinite(number):
        raise RulesetError.at(node.place, f"{what}: {text!r} is no finite number")
    return number


def _choice(node: Marked, allowed: Sequence[T], what: str) -> T:
    text = _text(node, what)
    for each in allowed:
        if each == text:
            return each
    hint = nearest(text, map(str, allowed)) or f"; write one of {', '.join(map(str, allowed))}"
    raise RulesetError.at(node.place, f"{what}: {text!r} is not known{hint}")


def _grade(node: Marked | None, allowed: Sequence[Grade], default: Grade, what: str) -> Grade:
    return default if node is None else _choice(node, allowed, what)


def _yes(node: Marked, what: str) -> bool:
    return _choice(node, ("yes", "no", "true", "false"), what) in ("yes", "true")
