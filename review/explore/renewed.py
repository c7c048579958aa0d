"""Parts renewed: another wall or seal, a stronger joint, a guard, on one part or on all alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
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
                yield Change(
                    f"Take {_names(scenario, several)} of {material} (now "
                    f"{listed(sorted(map(str, now)))}), and state its rating",
                    REBUILT + len(several) / 100, _set(several, "material", material, "rating"),
                )  # fmt: skip
    sealed = [n for n in weak if scenario.train[n].joint_material is not None]
    for several in _each_and_all(sealed):
        now = {scenario.train[n].joint_material for n in several}
        for seal in SEALS:
            if seal not in now:
                yield Change(
                    f"Seal {_names(scenario, several)} with {seal} "
                    f"(now {listed(sorted(map(str, now)))})",
                    BOUGHT + len(several) / 100,
                    _set(several, "joint_material", seal, "joint_maximum_temperature"),
                )  # fmt: skip


def _each_and_all(weak: Sequence[int]) -> list[tuple[int, ...]]:
    """One part, then all at once; of many only all."""
    alone = [(n,) for n in weak] if len(weak) <= MANY else []
    return alone + ([tuple(weak)] if len(weak) > 1 else [])


def _names(scenario: Scenario, several: Sequence[int]) -> str:
    return listed(f'"{scenario.train[n].id}"' for n in several)


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
    for several in _each_and_all(weak):
        says = f"Join {_names(scenario, several)} by screw-thread connectors with PTFE seals"
        yield Change(says, BOUGHT + len(several) / 100, _joined(several, SCREW))
    tubes = [n for n in joined if scenario.train[n].material in FERRULED
             and folded(str(scenario.train[n].joint)) not in STRONGEST]  # fmt: skip
    for several in _each_and_all(tubes):
        says = f"Join {_names(scenario, several)} by twin-ferrule tube fittings"
        yield Change(says, BOUGHT + 0.2 + len(several) / 100, _joined(several, FERRULES))
    if weak and (rest := [n for n in tubes if n not in weak]):
        yield Change(
            f"Join {_names(scenario, weak)} by screw-thread connectors with PTFE seals, "
            f"{_names(scenario, rest)} by twin-ferrule tube fittings",
            BOUGHT + 0.4, _both(_joined(weak, SCREW), _joined(rest, FERRULES)),
        )  # fmt: skip


def _both(one: Callable[[Any], None], other: Callable[[Any], None]) -> Callable[[Any], None]:
    def make(changed: Any) -> None:
        one(changed)
        other(changed)

    return make


def _joined(several: Sequence[int], joint: dict[str, str]) -> Callable[[Any], None]:
    def make(changed: Any) -> None:
        for n in several:
            item = changed["train"][n]
            for key in ("joint_material", "joint_rating", "joint_maximum_temperature"):
                item.pop(key, None)
            item |= joint

    return make


def guards(scenario: Scenario, against: list[Finding]) -> Iterator[Change]:
    """A guard around what is too hot to take hold of."""
    named = {f.at for f in against if f.criterion in GUARDED}
    bare = [n for n, item in enumerate(scenario.train) if item.id in named and not item.guard]
    for several in _each_and_all(bare):
        says = f"Put a guard around {_names(scenario, several)} and mark it hot"
        yield Change(says, SMALL + len(several) / 100, _set(several, "guard", "yes"))


def _set(several: Sequence[int], key: str, value: str, goes: str = "") -> Callable[[Any], None]:
    """Write one value into several items; what belonged to the old part goes."""

    def make(changed: Any) -> None:
        for n in several:
            changed["train"][n][key] = value
            changed["train"][n].pop(goes, None)

    return make
