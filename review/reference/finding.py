"""Finds substances, mixtures, materials and joints, each figure with its provenance.

One small YAML file per substance or material, found by name, synonym, CAS number or formula and
read only when a scenario names it. A site's file of the same name overrides the shipped one.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from review.reference.data import (
    Curve,
    DataError,
    Datum,
    Joint,
    Material,
    Rating,
    Substance,
    UnknownName,
    heat_capacity_gas,
    key,
    parse_formula,
    vapour_pressure,
)
from review.reference.files import (
    known_classes,
    read_joints,
    read_material,
    read_substance,
    same_words,
)
from review.reference.index import _folder_index, index_of, plain
from review.reference.mixtures import Mixture, Named, in_water, read_mixture, split_strength
from review.reference.pairs import (
    BURNS,
    CLOSED,
    DRIED,
    DRY,
    HOT_SURFACE,
    STANDING,
    Pair,
    read_pairs,
)
from review.reference.properties import (
    MATERIAL_PROPERTIES,
    RATINGS,
    SUBSTANCE_CURVES,
    SUBSTANCE_FLAGS,
    SUBSTANCE_PROPERTIES,
)
from review.reference.solutions import SolutionTable, read_solution
from review.scenario.sizes import FILE as SIZES_FILE
from review.scenario.words import FILE as WORDS_FILE
from review.scenario.words import Words, built_in_folder

__all__ = [
    "MATERIAL_PROPERTIES",
    "RATINGS",
    "SUBSTANCE_CURVES",
    "SUBSTANCE_FLAGS",
    "SUBSTANCE_PROPERTIES",
    "Curve",
    "DataError",
    "Datum",
    "Joint",
    "LookedUp",
    "Material",
    "Mixture",
    "Rating",
    "Reference",
    "Substance",
    "UnknownName",
    "built_in_folder",
    "heat_capacity_gas",
    "index_of",
    "key",
    "parse_formula",
    "vapour_pressure",
]


#: Files beside the rulesets that hold data.
DATA_FILES = frozenset(
    {"index.yaml", "joints.yaml", "classes.yaml", "pairs.yaml", SIZES_FILE, WORDS_FILE}
)
#: The size of a ground joint behind its name, such as in "NS 14/23".
TAPER = re.compile(r"\s*\d+/\d+\s*$")
#: Kinds of names that are kept in one file a folder.
_WHOLE = ("joints", "pairs", "words")


@dataclass(frozen=True, slots=True, order=True)
class LookedUp:
    """One name that was looked up and the file that answers to it; both "" where none does.

    `kind` is "substances", "mixtures", "materials", "joints", "pairs" or "solutions". When the
    same name still leads to the same file with the same hash, everything read under that name is
    as it was.
    """

    kind: str
    name: str
    file: str
    sha256: str


class Reference:
    """Finds and reads reference data; later folders override earlier ones by file name.

    Without `folders` the data shipped with the package is used.
    """

    def __init__(self, folders: Sequence[Path] | None = None) -> None:
        self._folders = tuple(folders) if folders else (built_in_folder(),)
        self._cache: dict[tuple[str, str], Any] = {}
        self._extra: dict[str, Substance] = {}
        self._answered: dict[tuple[str, str], Any] = {}
        self._names: dict[str, tuple[dict[str, str], dict[str, str]]] = {}
        self._joints: dict[str, Joint] | None = None
        self._pairs: dict[str, Pair] | None = None
        self._solutions: dict[tuple[str, str], SolutionTable] | None = None
        self._noted: list[set[tuple[str, str]]] = []
        self._hashes: dict[Path, str] = {}

    @contextmanager
    def noting(self) -> Iterator[set[tuple[str, str]]]:
        """Note every (kind, name) that is looked up inside the block, found or not."""
        names: set[tuple[str, str]] = set()
        self._noted.append(names)
        try:
            yield names
        finally:
            self._noted.pop()

    @cached_property
    def words(self) -> Words:
        """The closed lists of words, those of later folders added."""
        return Words(self._all_of(WORDS_FILE))

    def note_words(self) -> None:
        """Note that a review reads words."""
        self._note("words", "all")

    def _all_of(self, name: str) -> list[Path]:
        return [folder / name for folder in self._folders if (folder / name).exists()]

    def looked_up(self, kind: str, name: str) -> LookedUp:
        """Which file answers to a name now; the hash of a file is taken once."""
        if kind in _WHOLE or kind == "solutions":
            whole = kind in _WHOLE
            paths = self._all_of(f"{kind}.yaml") if whole else self._solution_files()
            return LookedUp(kind, name, kind, "+".join(self._hash(path) for path in paths))
        stem = self._stem(kind, name)
        if stem is None:
            return LookedUp(kind, name, "", "")
        return LookedUp(kind, name, f"{kind}/{stem}", self._hash(self._path(kind, stem)))

    def _hash(self, path: Path) -> str:
        """Taken before a file is read: one that is changed meanwhile then counts as another."""
        if path not in self._hashes:
            self._hashes[path] = hashlib.sha256(path.read_bytes()).hexdigest()
        return self._hashes[path]

    def _note(self, kind: str, name: str) -> None:
        for names in self._noted:
            names.add((kind, name))

    def substance(self, text: str) -> Substance:
        """The substance called `text` by name, synonym, CAS number or exact formula."""
        found: Substance = self._load("substances", text, self._classed(read_substance))
        return found

    def by_mass(self, composition: Mapping[str, float], basis: str) -> dict[str, float]:
        """Mass fractions of a liquid by name; NaN by volume where a density is not known."""
        found: dict[str, float] = {}
        for text, share in composition.items():
            one = self.substance(text)
            each = {"mole": one.molar_mass, "volume": one.number("liquid_density")}
            found[one.name] = found.get(one.name, 0.0) + share * each.get(basis, 1.0)
        total = sum(found.values())
        return {name: mass / total for name, mass in found.items()}

    def material(self, text: str) -> Material:
        """The material called `text` by name or synonym."""
        found: Material = self._load("materials", text, self._classed(read_material))
        return found

    def _classed(self, read: Callable[..., Any]) -> Callable[[Path], Any]:
        return lambda path: read(path, classes=self.classes())

    def classes(self) -> dict[str, str]:
        """Every class a substance or material may state, with its meaning; a site may add some."""
        return known_classes(built_in_folder(), *self._folders)

    def mixture(self, text: str) -> tuple[Mixture, float | None]:
        """The mixture called `text` and the strength said beside its name, None where none is.

        ValueError for a strength in mol/L where the solution's density is not known.
        """
        names, _ = self._index("mixtures")
        said = split_strength(text)
        bare = said.name
        if key(bare) not in names and said != (bare, None, None, False):
            bare = f"{bare} %"  # a substance's own name, which with a strength is its solution
        found: Mixture | None
        if key(bare) not in names:
            found = self._dissolved(said)
            if found is None:
                raise UnknownName("mixture", text, ())
        else:
            found = self._load("mixtures", bare, read_mixture)
        if not found.needs_strength and key(bare) in self._index("substances")[0]:
            raise DataError(
                f"{self._path('mixtures', names[key(bare)])}: {bare!r} is a name of a substance"
            )
        if said.concentrated:
            return found, found.concentrated
        if said.strength is None and said.molarity is None:
            return found, found.usual.get(key(bare))
        if said.molarity is not None and found.solute:
            mass = self.substance(found.solute).molar_mass
            return found, found.strength_at(said.molarity, mass)
        return found, said.strength if said.molarity is None else said.molarity

    def _dissolved(self, said: Named) -> Mixture | None:
        name = said.name.removesuffix(" solution")
        if name == said.name and said.strength is None and said.molarity is None:
            return None
        with suppress(UnknownName):
            return in_water(self.substance(name))
        return None

    def joint(self, text: str) -> Joint:
        """The kind of joint called `text`, by its name or a synonym, with or without a size.

        >>> Reference().joint("NS 29/32 with clip").name, Reference().joint("GL 45 screw cap").name
        ('clipped taper joint', 'screw-thread connector')
        """
        self._note("joints", text)
        if self._joints is None:
            joints: dict[str, Joint] = {}
            for path in self._all_of("joints.yaml"):
                self._hash(path)
                joints |= read_joints(path)
            self._joints = joints
        found = self._joints.get(key(text)) or self._joints.get(key(TAPER.sub("", text)))
        found = found or same_words(text, self._joints)
        if found is None:
            raise UnknownName("joint", text, self._joints)
        return found

    def joints(self) -> dict[str, Joint]:
        """All kinds of joint by name."""
        self.joint("none")
        return {joint.name: joint for joint in (self._joints or {}).values()}

    def spelt(self, kind: str) -> tuple[tuple[str, ...], ...]:
        """All names of each file of one kind, its own name first, in order."""
        by_stem: dict[str, dict[str, None]] = {}
        for folder in self._folders:
            for stem, entry in _folder_index(folder).get(kind, {}).items():
                by_stem.setdefault(stem, {}).update(dict.fromkeys(entry["names"]))
        return tuple(sorted(tuple(names) for names in by_stem.values()))

    def pairs(self) -> tuple[Pair, ...]:
        """Pairs that must not meet; a later folder overrides a pair by its name."""
        self._note("pairs", "pairs")
        if self._pairs is None:  # kept only once it is whole: what fails fails again
            found: dict[str, Pair] = {}
            for path in self._all_of("pairs.yaml"):
                self._hash(path)
                found |= read_pairs(path)
            names = {*self._index("substances")[0], *self._index("materials")[0]}
            besides = (HOT_SURFACE, CLOSED, STANDING, DRY, DRIED, BURNS)
            classes = (*known_classes(*self._folders), *besides)
            known = {key(name) for name in classes} | names
            for pair in found.values():
                for partner in (*pair.partners, pair.third):
                    if partner and key(partner) not in known:
                        raise DataError(
                            f"pair {pair.name!r}: {partner!r} is no class, substance or material"
                        )
            self._pairs = found
        return tuple(self._pairs.values())

    def solution(self, solute: str, solvent: str) -> SolutionTable | None:
        """Partial pressures of a substance over its solutions, by both substances' own names."""
        self._note("solutions", f"{solute} in {solvent}")
        if self._solutions is None:
            tables = {}
            for path in self._solution_files():
                self._hash(path)
                table = read_solution(path)
                tables[table.solute, table.solvent] = table
            self._solutions = tables
        return self._solutions.get((solute, solvent))

    def _solution_files(self) -> list[Path]:
        """Every file of partial pressures; those of later folders last."""
        found = (sorted(folder.glob("solutions/*.yaml")) for folder in self._folders)
        return [path for paths in found for path in paths]

    def names(self, kind: Literal["substances", "materials"]) -> tuple[str, ...]:
        """The file stems known of one kind, sorted."""
        return tuple(sorted(set(self._index(kind)[0].values())))

    def look_up(self, text: str) -> Substance:
        """A substance by a name or number no file has: what the `chemicals` library says of it.

        Where the library's number is that of a file, the file counts. What was found answers to
        its names and, where nothing else has it, its formula from now on.
        """
        from review.reference.library import look_up

        found = look_up(text)
        self._answered.clear()
        with suppress(UnknownName):
            own = self.substance(found.cas)
            self._extra.setdefault(key(text), own)
            return own
        for name in (text, found.name, found.cas):
            self._extra[key(name)] = found
        if not self._fitting(found.formula):
            self._extra.setdefault(found.formula, found)
        self._answered.clear()
        return found

    def described(self, name: str) -> str:
        """A name with formula and CAS number, so that no two substances look alike."""
        try:
            substance = self.substance(name)
        except UnknownName:
            return name  # a mixture
        return f"{name} ({substance.formula}, CAS {substance.cas})"

    @cached_property
    def _compositions(self) -> dict[str, tuple[str, dict[str, float]]]:
        """Own name and atoms of each substance that has a formula, by file."""
        return {
            stem: (entry["names"][0], parse_formula(entry["formula"]))
            for folder in self._folders
            for stem, entry in _folder_index(folder).get("substances", {}).items()
            if entry["formula"] != "none"
        }

    def _fitting(self, formula: str) -> list[str]:
        """All substances that a formula fits: by its letters, or its atoms where it tells no more.

        C2H5OH is ethanol alone; C4H8 is 1-butene and isobutene.
        """
        symbols = re.findall(r"[A-Z][a-z]?", formula)
        try:
            atoms = parse_formula(formula)
        except ValueError:
            return []
        if len(symbols) != len(atoms):
            return []
        return sorted(name for name, counted in self._compositions.values() if counted == atoms)

    def _load(self, kind: str, text: str, read: Callable[[Path], Any]) -> Any:
        """What answers to a name; asked again and again by all checks, found once."""
        self._note(kind, text)
        if (kind, text) not in self._answered:
            self._answered[kind, text] = self._found(kind, text, read)
        return self._answered[kind, text]

    def _found(self, kind: str, text: str, read: Callable[[Path], Any]) -> Any:
        names, _ = self._index(kind)
        stem = self._stem(kind, text)
        if kind == "substances" and key(text) not in names:
            extra = self._extra.get(key(text)) or self._extra.get(text.strip())
            if extra is not None:
                return extra
            several = self._fitting(text.strip())
            if len(several) > 1:
                raise UnknownName("substance", text, (), several)
        if stem is None:
            known = [*names, *self._index("mixtures")[0]] if kind == "substances" else names
            raise UnknownName(kind[:-1], text, known)
        if (kind, stem) not in self._cache:
            path = self._path(kind, stem)
            self._hash(path)
            self._cache[kind, stem] = read(path)
        return self._cache[kind, stem]

    def _stem(self, kind: str, text: str) -> str | None:
        """The file that answers to a name; a hydrate is its salt, chips are what they are of."""
        names, formulas = self._index(kind)
        stem = names.get(key(text)) or formulas.get(text.strip())
        if stem is None and kind == "substances":
            bare = plain(text)
            stem = names.get(key(bare)) or formulas.get(bare)
        return stem

    def _path(self, kind: str, stem: str) -> Path:
        """The file in force: that of the last folder which has one."""
        paths = [folder / kind / f"{stem}.yaml" for folder in self._folders]
        return next(p for p in reversed(paths) if p.exists())

    def _index(self, kind: str) -> tuple[dict[str, str], dict[str, str]]:
        """Names to file stems and formulas to file stems, over all folders."""
        if kind in self._names:
            return self._names[kind]
        names: dict[str, str] = {}
        formulas: dict[str, list[str]] = {}
        for folder in self._folders:
            for stem, entry in _folder_index(folder).get(kind, {}).items():
                for name in entry["names"]:
                    if names.setdefault(key(name), stem) != stem:
                        first = self._path(kind, names[key(name)])
                        raise DataError(
                            f"{folder / kind / stem}.yaml: {name!r} is already a name of {first}"
                        )
                stems = formulas.setdefault(entry["formula"], [])
                if stem not in stems:
                    stems.append(stem)
        single = {f: s[0] for f, s in formulas.items() if len(s) == 1 and f not in ("", "none")}
        self._names[kind] = names, single
        return self._names[kind]
