"""What is left over must not meet in one waste container: a short table, by name and class."""

from __future__ import annotations

from collections.abc import Iterable

ACIDS = (
    "acetic acid", "hydrochloric acid", "hydrogen chloride", "hydrogen fluoride", "nitric acid",
    "sulfuric acid", "sulfur trioxide",
)  # fmt: skip
BASES = ("sodium hydroxide", "potassium hydroxide", "calcium hydroxide", "ammonia")
HALOGENS = ("chlorine", "bromine", "iodine", "fluorine")
HYPOCHLORITES = ("sodium hypochlorite", "calcium hypochlorite")
OXIDISERS = ("hydrogen peroxide", "nitric acid", "potassium permanganate", *HYPOCHLORITES)
CYANIDES = ("hydrogen cyanide", "sodium cyanide", "potassium cyanide")
SULFIDES = ("hydrogen sulfide", "sodium sulfide")
METALS = ("silver", "silver nitrate", "copper", "copper oxide")

#: (one, the other, what happens). Classes that 49 CFR 177.848 keeps apart, and well-known pairs
#: of UN GHS data sheets, sections 7 and 10 (common knowledge, from memory).
APART = (
    (ACIDS, BASES, "they heat up and may boil over"),
    (OXIDISERS, "combustible", "they may ignite or burst"),
    (ACIDS, CYANIDES, "hydrogen cyanide comes off"),
    (ACIDS, SULFIDES, "hydrogen sulfide comes off"),
    (ACIDS, HYPOCHLORITES, "chlorine comes off"),
    (("ammonia",), HYPOCHLORITES, "chloramines come off"),
    (("ammonia",), HALOGENS, "explosive nitrogen halides may form"),
    (("ammonia", "acetylene"), METALS, "explosive azides, nitrides or acetylides may form"),
    (("sulfuric acid", "sulfur trioxide"), ("water",), "it boils and spits: acid into water only"),
)


def remains(present: Iterable[str], combustibles: Iterable[str]) -> tuple[str, ...]:
    """Pairs among what is present that must stay apart, as plain lines.

    >>> remains(["ammonia", "nitric acid", "water"], ["ammonia"])[0]
    'nitric acid and ammonia: they heat up and may boil over'
    """
    names, fuels = sorted(present), set(combustibles)
    lines: dict[frozenset[str], str] = {}
    for one, other, what in APART:
        for a in (n for n in names if n in one):
            for b in names:
                meets = b in fuels if other == "combustible" else b in other
                if meets and a != b:
                    lines.setdefault(frozenset((a, b)), f"{a} and {b}: {what}")
    return tuple(lines.values())
