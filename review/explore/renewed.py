"""Parts renewed: another wall or seal, a stronger joint, a guard, on one part or on all alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from review.interface.result import Finding
from review.render.words import listed
from review.scenario import Scenario
from review.scenario.words import folded

#: Materials as a user would get them, by what they are made into (common practice, no source).
TUBES = ("borosilicate glass 3.3", "fused quartz", "alumina ceramic", "stainless steel 316")
HOSES = ("PTFE", "PFA", "FKM", "EPDM", "silicone rubber", "PVC", "polyethylene",
         "stainless steel 316")  # fmt: skip
SEALS = ("PTFE", "FFKM", "FKM", "EPDM", "silicone rubber")
#: What a joint has a part in, and joints that there is nothing stronger to put in place of.
JOINED = ("pressure.", "heat.joint")
UNKNOWN = "undetermined"
STRONGEST = ("none", "fused", "twin ferrule tube fitting", "taper thread")
STRONG = (*STRONGEST, "screw thread connector")
SCREW = {"joint": "screw-thread connector", "joint_material": "PTFE"}
FERRULES = {"joint": "twin-ferrule tube fitting"}
#: What a fitting with ferrules can be made up on.
FERRULED = ("stainless steel 316", "stainless steel 304", "copper", "PTFE", "PFA")
#: From so many weak parts on only a change of all of them is looked at.
MANY = 4
#: What a guard answers.
GUARDED = ("heat.handled_part", "heat.hot_part", "heat.warm_part")
#: What another material or seal has no part in.
NOT_OF_MATERIAL = ("flammability.", "ignition.", "exposure.", "readiness.", "oxygen.")
#: How far a change is from the present set-up, beside `Knob.far`: a thing to buy or to rebuild.
SMALL, BOUGHT, REBUILT = 0.3, 1.0, 2.0


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the file's data, and what it is for a person."""

    says: str
    far: float
    make: Callable[[Any], None]
    family: str = ""
    """Changes of one family do the same more or less strongly: the nearest that helps is enough."""
    parts: tuple[int, ...] = ()
    """The items that it changes alike, by their places in the train."""
    of: Callable[[tuple[int, ...]], Change] | None = None
    """The same change of other parts; None where it cannot be cut down."""

    def fewer(self) -> Iterator[Change]:
        """The same change with each of its parts left out."""
        if self.of is not None and len(self.parts) > 1:
            for part in self.parts:
                yield self.of(tuple(n for n in self.parts if n != part))


def _alike(of: Callable[[tuple[int, ...]], Change], parts: Sequence[int]) -> Change:
    """A change of several parts that can be cut down to some of them."""

    def cut(some: tuple[int, ...]) -> Change:
        return replace(of(some), parts=some, of=cut)

    return cut(tuple(parts))


def materials(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """Other walls and seals of the items that something stands against: of one, then of all alike.

    A maker's rating belongs to the old part and goes with it.
    """
    named = {f.at for f in against if not f.criterion.startswith(NOT_OF_MATERIAL)}
    weak = [n for n, item in enumerate(scenario.train) if item.id in named]
    groups: dict[tuple[int, ...], Sequence[str]] = {}
    for soft in (True, False):
        of = [n for n in weak if (m := scenario.train[n].material) is not None
              and (m not in TUBES) == soft]  # fmt: skip
        groups |= dict.fromkeys(_each_and_all(of), HOSES if soft else TUBES)
    for several, materials in groups.items():
        now = {scenario.train[n].material for n in several}
        for material in materials:
            if material not in now:
                yield _alike(partial(_material, scenario, material), several)
    sealed = [n for n in weak if scenario.train[n].joint_material is not None]
    for several in _each_and_all(sealed):
        now = {scenario.train[n].joint_material for n in several}
        for seal in SEALS:
            if seal not in now:
                yield _alike(partial(_seal, scenario, seal), several)


def _material(scenario: Scenario, material: str, several: tuple[int, ...]) -> Change:
    now = listed(sorted({str(scenario.train[n].material) for n in several}))
    says = f"Take {_names(scenario, several)} of {material} (now {now}), and state its rating"
    far = REBUILT + len(several) / 100
    return Change(says, far, _set(_ids(scenario, several), "material", material, "rating"))


def _seal(scenario: Scenario, seal: str, several: tuple[int, ...]) -> Change:
    now = listed(sorted({str(scenario.train[n].joint_material) for n in several}))
    return Change(
        f"Seal {_names(scenario, several)} with {seal} (now {now})", BOUGHT + len(several) / 100,
        _set(_ids(scenario, several), "joint_material", seal, "joint_maximum_temperature"),
    )  # fmt: skip


def _each_and_all(weak: Sequence[int]) -> list[tuple[int, ...]]:
    """One part, then all at once; of many only all."""
    alone = [(n,) for n in weak] if len(weak) <= MANY else []
    return alone + ([tuple(weak)] if len(weak) > 1 else [])


def _names(scenario: Scenario, several: Sequence[int]) -> str:
    return listed(f'"{id}"' for id in _ids(scenario, several))


def _ids(scenario: Scenario, several: Sequence[int]) -> list[str]:
    return [scenario.train[n].id for n in several]


def joints(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """Screw connectors in place of what gives way, softens or is attacked, on metal and hose
    fittings with ferrules in place of what still is too weak: one joint, then all."""
    done = set()
    for asked in JOINED:
        named = {f.at for f in against if f.criterion.startswith(asked)}
        worse = {f.at for f in against if f.criterion.startswith(asked) and f.grade != UNKNOWN}
        for some in (worse, named):
            for change in _stronger(scenario, some):
                if change.says not in done:
                    done.add(change.says)
                    yield change


def _stronger(scenario: Scenario, named: set[str]) -> Iterator[Change]:
    joined = [n for n, item in enumerate(scenario.train) if item.id in named and item.joint]
    weak = [n for n in joined if folded(str(scenario.train[n].joint)) not in STRONG]
    tubes = [n for n in joined if scenario.train[n].material in FERRULED
             and folded(str(scenario.train[n].joint)) not in STRONGEST]  # fmt: skip
    for several in _each_and_all(weak):
        yield _alike(partial(_joints, scenario, frozenset()), several)
    for several in _each_and_all(tubes):
        yield _alike(partial(_joints, scenario, frozenset(tubes)), several)
    if weak and (rest := [n for n in tubes if n not in weak]):
        yield _alike(partial(_joints, scenario, frozenset(rest)), [*weak, *rest])


def _joints(scenario: Scenario, ferrules: frozenset[int], several: tuple[int, ...]) -> Change:
    """Screw connectors, and fittings with ferrules on some of them."""
    kinds = [
        (f"{_names(scenario, some)} by {what}", _joined(_ids(scenario, some), joint))
        for what, joint, some in (
            ("screw-thread connectors with PTFE seals", SCREW,
             [n for n in several if n not in ferrules]),
            ("twin-ferrule tube fittings", FERRULES, [n for n in several if n in ferrules]),
        ) if some
    ]  # fmt: skip

    def make(changed: Any) -> None:
        for _, join in kinds:
            join(changed)

    far = BOUGHT + 0.2 * bool(ferrules) + 0.2 * (len(kinds) - 1) + len(several) / 100
    return Change(f"Join {', '.join(says for says, _ in kinds)}", far, make)


def item_of(changed: Any, id: str) -> Any:
    """An item of a file's data, wherever it stands by now. Raises KeyError."""
    for item in changed["train"]:
        if item.get("id") == id:
            return item
    raise KeyError(id)


def _joined(several: Sequence[str], joint: dict[str, str]) -> Callable[[Any], None]:
    def make(changed: Any) -> None:
        for id in several:
            item = item_of(changed, id)
            for key in ("joint_material", "joint_rating", "joint_maximum_temperature"):
                item.pop(key, None)
            item |= joint

    return make


def guards(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """A guard around what is too hot to take hold of."""
    named = {f.at for f in against if f.criterion in GUARDED}
    bare = [n for n, item in enumerate(scenario.train) if item.id in named and not item.guard]
    for several in _each_and_all(bare):
        yield _alike(partial(_guard, scenario), several)


def _guard(scenario: Scenario, several: tuple[int, ...]) -> Change:
    says = f"Put a guard around {_names(scenario, several)} and mark it hot"
    return Change(says, SMALL + len(several) / 100, _set(_ids(scenario, several), "guard", "yes"))


def _set(several: Sequence[str], key: str, value: str, goes: str = "") -> Callable[[Any], None]:
    """Write one value into several items; what belonged to the old part goes."""

    def make(changed: Any) -> None:
        for id in several:
            item = item_of(changed, id)
            item[key] = value
            item.pop(goes, None)

    return make
