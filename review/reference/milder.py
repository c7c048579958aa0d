"""Where a file of a site or plugin is milder than the shipped one that it overrides."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from review.reference.data import (
    DataError,
    Datum,
    Material,
    Rating,
    Substance,
    at_temperature,
    for_exposure,
)
from review.reference.files import read_material, read_substance
from review.reference.mixtures import Mixture, read_mixture
from review.reference.properties import BY_TEMPERATURE, RATINGS

#: Properties whose side of more caution is known: a value on the other side is milder. What is not
#: listed (a density, a heat capacity) is cautious on neither side.
LOWER_IS_SAFER = (
    "lower_limit_air", "lower_limit_oxygen", "limiting_oxygen_nitrogen",
    "limiting_oxygen_carbon_dioxide", "autoignition", "flash_point", "boiling_point",
    "maximum_experimental_safe_gap", "quenching_distance", "minimum_ignition_energy",
    "iso10156_tci", "limit_8_hour", "limit_short_term", "limit_ceiling", "idlh",
    "allowable_stress", "allowable_stress_home_made", "maximum_temperature",
    "aegl_1", "aegl_2", "aegl_3",
    "decomposes_above", "decomposes_above_catalyst", "decomposition_pressure",
)  # fmt: skip
HIGHER_IS_SAFER = (
    "upper_limit_air", "upper_limit_oxygen", "oxidising_coefficient", "minimum_temperature",
    "heat_of_combustion", "heat_of_combustion_gross", "youngs_modulus", "expansion",
)  # fmt: skip
#: Flags that state a hazard, and the one that denies it.
_HAZARDS = ("combustible", "oxidiser", "burns_without_oxygen", "pyrophoric")
_CORROSIVE = ("1A", "1B", "1C", "unknown", "none")


def milder_files(folder: Path, shipped: Path) -> Iterator[tuple[str, str, str]]:
    """Each file of `folder` that is milder than the shipped one: name, in what, and its reason.

    Raises `DataError` where a milder file gives no `reason`.
    """
    yield from _of_kind(folder, shipped, "substances", read_substance, _substance)
    yield from _of_kind(folder, shipped, "mixtures", read_mixture, _mixture)
    yield from _of_kind(folder, shipped, "materials", read_material, _material)


def _of_kind(
    folder: Path, shipped: Path, kind: str, read: Callable[[Path], Any],
    compared: Callable[[Any, Any], list[str]],
) -> Iterator[tuple[str, str, str]]:  # fmt: skip
    for path in sorted(folder.glob(f"{kind}/*.yaml")):
        known = shipped / kind / path.name
        if not known.exists():
            continue
        try:
            new = read(path)
        except DataError:
            continue  # nobody can use it: whatever looks it up says what is wrong with it
        yield from _accounted(path, compared(read(known), new), str(new.reason))


def _accounted(path: Path, what: list[str], reason: str) -> Iterator[tuple[str, str, str]]:
    name = f"{path.parent.name}/{path.stem}"
    if what and not reason.strip():
        raise DataError(
            f"{path}:1: milder than the shipped {name} and needs a reason: {'; '.join(what)}"
        )
    for each in what:
        yield name, each, reason


def _substance(old: Substance, new: Substance) -> list[str]:
    what = _figures(old.properties, new.properties)
    for flag in _HAZARDS:
        if getattr(old, flag) is not False and getattr(new, flag) is False:
            what.append(f"{flag} is no longer said")
    what += _classes(old.classes, new.classes)
    if new.inert and not old.inert:
        what.append("called inert")
    if _CORROSIVE.index(new.skin_corrosion) > _CORROSIVE.index(old.skin_corrosion):
        what.append(f"skin_corrosion moved from {old.skin_corrosion} to {new.skin_corrosion}")
    return what


def _mixture(old: Mixture, new: Mixture) -> list[str]:
    """Which of two compositions is the milder nobody can say: another one is accounted for."""
    said = [
        (m.state, m.basis, m.shares, m.rest, m.weakest, m.strongest, m.usual) for m in (old, new)
    ]
    return [] if said[0] == said[1] else ["another composition"]


def _material(old: Material, new: Material) -> list[str]:
    what = _figures(old.properties, new.properties) + _classes(old.classes, new.classes)
    pairs = [(f"in {n}", old.ratings.get(n), r) for n, r in new.ratings.items()]
    by_class = new.class_ratings.items()
    pairs += [(f"in the class {n}", old.class_ratings.get(n), r) for n, r in by_class]
    for where, known, rating in pairs:
        if known is None:  # a figure where none was known is data, not milder data
            continue
        cold, hot = RATINGS.index(rating.word), rating.at(_HOT)
        if cold < RATINGS.index(known.word):
            what.append(f"rated {rating.word} {where} instead of {known.word}")
        elif rating.last > known.last or (hot < known.at(_HOT)).any():
            what.append(f"rated {rating.word} {where} up to a higher temperature")
        elif _strongest(rating) > _strongest(known):
            what.append(f"rated {rating.word} {where} up to a higher strength")
    return what


def _strongest(rating: Rating) -> float:
    """Strength above which the neat substance's rating holds."""
    return rating.stronger[-1][0] if rating.stronger else rating.strongest


def _classes(old: Sequence[str] | None, new: Sequence[str] | None) -> list[str]:
    """Classes of reactivity that are no longer said; nobody knows is no denial."""
    lost = sorted(set(old or ()) - set(new or ())) if new is not None else []
    return [f"no longer of class {name}" for name in lost]


def _figures(old: Mapping[str, Datum], new: Mapping[str, Datum]) -> list[str]:
    """Figures that moved to the milder side; `none` denies the hazard that a number states."""
    what = []
    for name, known in old.items():
        now = new[name]
        if name not in LOWER_IS_SAFER and name not in HIGHER_IS_SAFER:
            continue
        if known.state != "none" and now.state == "none" and name not in _NO_CAP_IS_WORSE:
            what.append(f"{name} is said not to apply")
        elif known.value is not None and now.value is not None:
            up = now.value > known.value
            if known.stated and now.stated:
                what += _tables(name, known, now)
            elif now.value != known.value and up == (name in LOWER_IS_SAFER):
                what.append(f"{name} moved from {known.value:g} to {now.value:g} {now.unit}")
    return what


def _tables(name: str, known: Datum, now: Datum) -> list[str]:
    """Figures by temperature or time, all of which are safer low, compared at every point."""
    points = sorted({point for point, _ in (*known.stated, *now.stated)})
    read = at_temperature if name in BY_TEMPERATURE else for_exposure
    before, after = read(known, points), read(now, points)
    if ((after > before) | (np.isnan(before) & ~np.isnan(after))).any():
        return [f"{name} is higher somewhere in its table"]
    return []


#: Temperatures (K) at which ratings are compared.
_HOT = np.arange(273.15, 1800.0, 10.0)
#: Of these `none` only means that nothing is vouched for.
_NO_CAP_IS_WORSE = ("allowable_stress", "allowable_stress_home_made")
