"""All words a scenario may use, list by list, with what plugins add."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from review.interface.items import ItemKind
from review.reference.finding import Reference
from review.scenario.words import MARKS


@dataclass(frozen=True, slots=True)
class Entry:
    """One word with its synonyms, the word itself first, and what is told of it."""

    spellings: tuple[str, ...]
    marks: tuple[str, ...] = ()


def vocabulary(reference: Reference, kinds: Iterable[ItemKind]) -> Mapping[str, tuple[Entry, ...]]:
    """Each list by its name: those of `words.yaml`, then items, joints and what data names."""
    lists = {
        kind: tuple(
            Entry((word.name, *word.synonyms), tuple(word.marks.values()))
            for word in reference.words.list(kind)
        )
        for kind in MARKS
    }
    items = {kind.id: Entry((kind.id, *kind.synonyms)) for kind in kinds}
    lists["item"] = tuple(items[id] for id in sorted(items))
    lists["joint"] = tuple(
        Entry((joint.name, *joint.synonyms)) for joint in reference.joints().values()
    )
    lists["material"] = tuple(Entry(names) for names in reference.spelt("materials"))
    lists["mixture"] = tuple(
        Entry(tuple(name.replace(" %", " ... %") for name in names))
        for names in reference.spelt("mixtures")
    )
    lists["substance"] = tuple(Entry(names) for names in reference.spelt("substances"))
    return lists
