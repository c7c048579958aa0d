"""Checks that span sections: names that must exist, and the train's order.

They are made on the plain data, so that a dangling name is reported beside a wrong unit.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any

from review.scenario.errors import Problem, nearest, quoted
from review.scenario.intended import named
from review.scenario.models import MAINS, Safeguard
from review.scenario.units import fraction_basis
from review.scenario.yaml import Document, Where

#: What a review calls the settings as stated and the time when everything is over.
RESERVED_STEPS = ("stated settings", "after the last step")


def dangling(document: Document) -> list[Problem]:
    """Names that name nothing, names given twice, a train that runs in a circle."""
    return list(_Names(document).problems())


_SAFEGUARD_KEYS = tuple(Safeguard.model_fields)
_NAMED_SECTIONS = ("reagents", "flows", "heat", "catalysts", "ignition_sources")
#: Letters and digits that are taken for one another, some of other alphabets (Unicode Technical
#: Standard 39 lists them all; these are the ones a keyboard or a copied text brings).
_ALIKE = (
    "0o 1i li |i \u0131i \u0430a \u0435e \u043eo \u0440p \u0441c \u0443y \u0445x \u0456i \u0458j "
    "\u0455s \u043ak \u043cm \u043dh \u0442t \u0432b \u03b1a \u03bfo \u03c1p \u03b9i \u03bak "
    "\u03bdv \u03c4t"
)
_LIKE = str.maketrans({pair[0]: pair[1] for pair in _ALIKE.split(" ") if pair})


def _looks(name: str) -> str:
    """What a name looks like at a glance: capitals, blanks and look-alike letters do not count."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    return "".join(c for c in plain if not (c.isspace() or c in "-_")).translate(_LIKE)


def _mapping(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _with_name(item: Any) -> dict[str, Any]:
    """An item as it stands, without an `id` that is no text: that is told as a wrong value."""
    given = _mapping(item)
    return {key: given[key] for key in given if key != "id" or isinstance(given[key], str)}


class _Names:
    def __init__(self, document: Document) -> None:
        self.document = document
        data = document.data
        self.train = [(i, _with_name(item)) for i, item in enumerate(_list(data.get("train")))]
        # A set in the file's order.
        self.ids = dict.fromkeys(item["id"] for _, item in self.train if "id" in item)
        steps = [_mapping(step).get("step") for step in _list(data.get("procedure"))]
        self.steps = [name for name in steps if isinstance(name, str)]
        self.flows = _mapping(data.get("flows"))
        self.heat = _mapping(data.get("heat"))

    def problems(self) -> Iterator[Problem]:
        data = self.document.data
        reagents = _mapping(data.get("reagents"))
        for name, flow in self.flows.items():
            yield from self.check(("flows", name, "reagent"), flow, "reagent", reagents)
            yield from self.check(("flows", name, "into"), flow, "item", self.ids)
        for name, heat in self.heat.items():
            yield from self.check(("heat", name, "heats"), heat, "item", self.ids)
        for name, catalyst in _mapping(data.get("catalysts")).items():
            yield from self.check(("catalysts", name, "in"), catalyst, "item", self.ids)
        yield from self.safeguards(_list(data.get("safeguards")))
        for name, heat in self.heat.items():
            yield from self.check(("heat", name, "fuel"), heat, "reagent", [*reagents, *MAINS])
        frame = _mapping(data.get("frame"))
        for name, clamp in _mapping(frame.get("clamps")).items():
            rods = _mapping(frame.get("rods"))
            yield from self.check(("frame", "clamps", name, "rod"), clamp, "rod", rods)
        shown = [*self.ids, *self.flows]
        for i, sign in enumerate(_list(data.get("look_for"))):
            yield from self.check(("look_for", i, "at"), sign, "item or flow", shown)
        known = {"item": self.ids, "heater": self.heat, "flow": self.flows, "step": self.steps}
        for path, entry, what in named(_mapping(data.get("intent"))):
            yield from self.check(path, entry, what, known[what])
        yield from self.assumed(_list(data.get("assumed")))
        yield from self.procedure(_list(data.get("procedure")))
        yield from self.twice("train", "id", "item id")
        yield from self.twice("procedure", "step", "step name")
        yield from self.alike()
        circle = list(self.circle())
        yield from circle
        yield from self.upstream(bool(circle))
        yield from self.bases(reagents)

    def check(
        self, path: Where, section: Any, what: str, known: Iterable[str]
    ) -> Iterator[Problem]:
        name = _mapping(section).get(str(path[-1]))
        if isinstance(name, str) and name:
            yield from self.exists(path, name, what, known)

    def exists(
        self, path: Where, name: str, what: str, known: Iterable[str], *, at_key: bool = False
    ) -> Iterator[Problem]:
        if name not in known:
            message = f"there is no {what} {quoted(name)}"
            if path[0] == "heat" and what == "reagent":
                message += (
                    f": write \"fuel: {MAINS[0]}\" of gas from the mains, and list what else "
                    f"burns under reagents, such as {name}: {{state: gas, composition: {{{name}: "
                    "100 %}, held: {as: cylinder, volume: 1 L, pressure: 2 bar gauge, regulator: "
                    "0.05 bar gauge}}"
                )
            yield self.document.problem(path, message, nearest(name, known), at_key=at_key)

    def safeguards(self, given: list[Any]) -> Iterator[Problem]:
        shown = [*self.flows, *self.heat, *self.ids, "ventilation"]
        for i, safeguard in enumerate(given):
            path: Where = ("safeguards", i)
            for key in _mapping(safeguard):
                # Whatever else is said is for people; a key nearly like one that counts is a slip.
                near = "" if key in _SAFEGUARD_KEYS else nearest(key, _SAFEGUARD_KEYS)
                if near:
                    wrong = f"unknown key {quoted(key)}"
                    yield self.document.problem((*path, key), wrong, near, at_key=True)
            yield from self.check((*path, "before"), safeguard, "step", self.steps)
            for key, what, names in (
                ("reveals", "flow, heat source or item", shown),
                ("closes", "flow", list(self.flows)),
            ):
                said = _mapping(safeguard).get(key)
                for n, name in enumerate(said if isinstance(said, list) else [said]):
                    if isinstance(name, str) and name:
                        place = (*path, key, n) if isinstance(said, list) else (*path, key)
                        yield from self.exists(place, name, what, names)

    def assumed(self, given: list[Any]) -> Iterator[Problem]:
        """Each path must lead to something the file gives, or an assumption would go unseen."""
        known = {".".join(map(str, self.named(path))) for path in self.document.places}
        for i, path in enumerate(given):
            if isinstance(path, str) and path:
                yield from self.exists(("assumed", i), path, "value", known)

    def named(self, path: Where) -> Where:
        """A path as numbers are addressed: items by id, steps by name."""
        key = {"train": "id", "procedure": "step"}.get(str(path[0]) if path else "")
        if key is None or len(path) < 2 or not isinstance(path[1], int):
            return path
        part = _mapping(_list(self.document.data.get(str(path[0])))[path[1]])
        return (path[0], str(part.get(key, path[1])), *path[2:])

    def procedure(self, steps: list[Any]) -> Iterator[Problem]:
        for i, step in enumerate(steps):
            name = _mapping(step).get("step")
            if name in RESERVED_STEPS:
                message = f"{quoted(name)} is what the review calls a step of its own: rename it"
                yield self.document.problem(("procedure", i, "step"), message)
            pumps = [str(item.get("id")) for _, item in self.train if "suction" in item]
            for section, what, known in (
                ("flows", "flow", list(self.flows)),
                ("heat", "heat source", list(self.heat)),
                ("suction", "pump", pumps),
            ):
                for name in _mapping(_mapping(step).get(section)):
                    path = ("procedure", i, section, name)
                    yield from self.exists(path, name, what, known, at_key=True)
            said = _mapping(step).get("hold")
            for n, flow in enumerate(said if isinstance(said, list) else [said]):
                if isinstance(flow, str) and flow:
                    place: Where = ("procedure", i, "hold")
                    place = (*place, n) if isinstance(said, list) else place
                    yield from self.exists(place, flow, "flow", list(self.flows))
            yield from self.lifted(i, _mapping(step).get("lifted"))
            yield from self.valves(i, _mapping(_mapping(step).get("valves")))

    def lifted(self, step: int, said: Any) -> Iterator[Problem]:
        """Each is an item with a dip tube, and what stands before it leads nowhere else."""
        dips = [str(item.get("id")) for _, item in self.train if "dip_depth" in item]
        before = self.before()
        for n, name in enumerate(said if isinstance(said, list) else [said]):
            if not isinstance(name, str) or not name:
                continue
            place = (n,) if isinstance(said, list) else ()
            path: Where = ("procedure", step, "lifted", *place)
            yield from self.exists(path, name, "item with a dip_depth", dips)
            others = [ups for other, ups in before.items() if other != name]
            shared = [up for up in before.get(name, ()) if any(up in ups for ups in others)]
            wrong = f"{quoted(shared[0])} before it leads elsewhere too" if shared else ""
            if name in dips and not before.get(name):
                wrong = "nothing stands before it that could be lifted"
            if wrong:
                yield self.document.problem(path, f"{quoted(name)} cannot be lifted: {wrong}")

    def before(self) -> dict[str, list[str]]:
        """What stands before each item."""
        found: dict[str, list[str]] = {}
        last = ""
        for _, item in self.train:
            own = str(item.get("id"))
            named = [name for _, name in self.named_upstream(item)]
            found[own] = named if "from" in item else [last] * bool(last)
            last = own
        return found

    def valves(self, step: int, given: dict[str, Any]) -> Iterator[Problem]:
        """Each valve is an item, its position a word or a neighbour."""
        beside: dict[str, list[str]] = {name: [] for name in self.ids}
        for own, ups in self.before().items():
            for up in ups:
                beside.get(up, []).append(own)
                beside.get(own, []).append(up)
        for name, position in given.items():
            path: Where = ("procedure", step, "valves", name)
            yield from self.exists(path, name, "item", self.ids, at_key=True)
            if name in beside:
                known = ["open", "closed", *beside[name]]
                yield from self.exists(path, str(position), f"position of {quoted(name)},", known)

    def alike(self) -> Iterator[Problem]:
        """Two names of one section that a reader would take for one."""
        data = self.document.data
        lists = [("train", "id"), ("procedure", "step")]
        named: list[list[tuple[Where, str]]] = [
            [((section, i, key), name) for i, part in enumerate(_list(data.get(section)))
             if isinstance(name := _mapping(part).get(key), str)]
            for section, key in lists
        ]  # fmt: skip
        frame = _mapping(data.get("frame"))
        sections: dict[Where, dict[str, Any]] = {
            (key,): _mapping(data.get(key)) for key in _NAMED_SECTIONS
        }
        sections |= {("frame", key): _mapping(frame.get(key)) for key in ("rods", "clamps")}
        named += [[((*path, name), name) for name in given] for path, given in sections.items()]
        for group in named:
            first: dict[str, str] = {}
            for path, name in group:
                other = first.setdefault(_looks(name), name)
                if other != name:
                    message = f"{quoted(name)} can be taken for {quoted(other)}: rename one"
                    yield self.document.problem(path, message, at_key=path[-1] == name)

    def twice(self, section: str, key: str, what: str) -> Iterator[Problem]:
        first: dict[str, int] = {}
        for i, part in enumerate(_list(self.document.data.get(section))):
            name = _mapping(part).get(key)
            if not isinstance(name, str):
                continue
            if name in first:
                place = self.document.places[(section, first[name], key)]
                message = f"duplicate {what} {quoted(name)}, first at {place.line}:{place.column}"
                yield self.document.problem((section, i, key), message)
            first.setdefault(name, i)

    def named_upstream(self, item: dict[str, Any]) -> list[tuple[Where, str]]:
        given = item.get("from")
        if isinstance(given, str):
            return [((), given)]
        return [((i,), name) for i, name in enumerate(_list(given)) if isinstance(name, str)]

    def upstream(self, circle: bool) -> Iterator[Problem]:
        for i, item in self.train:
            names = self.named_upstream(item)
            seen: set[str] = set()
            for where, name in names:
                path = ("train", i, "from", *where)
                yield from self.exists(path, name, "item", self.ids)
                if name in seen:
                    yield self.document.problem(path, f"{quoted(name)} stands here twice")
                seen.add(name)
            if "from" not in item and i and "id" in self.train[i - 1][1]:
                seen = {self.train[i - 1][1]["id"]}
                if not circle:
                    yield from self.unsaid(i, self.train[i - 1][1]["id"])
            for name in _mapping(item.get("share")):
                path = ("train", i, "share", name)
                yield from self.exists(path, name, "upstream item", sorted(seen), at_key=True)

    def unsaid(self, i: int, before: str) -> Iterator[Problem]:
        """A fed item that joins another item's gas with that of the item before it, which would
        come to it too: does that branch, or does the fed item begin?"""
        mine = self.train[i][1].get("id")
        takers = [
            str(other.get("id"))
            for _, other in self.train
            if {before, mine} <= {name for _, name in self.named_upstream(other)}
        ]
        fed = [_mapping(flow).get("into") for flow in self.flows.values()]
        if takers and mine in fed:
            own = quoted(str(mine))
            message = (
                f"{quoted(takers[0])} takes the gas of {quoted(before)}, which stands before "
                f"{own}: write for {own} 'from: []' where nothing comes to it from another item, "
                f"or 'from: {before}' where the gas branches"
            )
            yield self.document.problem(("train", i, "id"), message)

    def circle(self) -> Iterator[Problem]:
        above: dict[str, list[str]] = {}
        index: dict[str, int] = {}
        before: list[str] = []
        for i, item in self.train:
            name = item.get("id")
            named = [up for _, up in self.named_upstream(item)] if "from" in item else before
            if isinstance(name, str) and name not in above:
                above[name], index[name] = [up for up in named if up in self.ids], i
            before = [name] if isinstance(name, str) else []
        loop = _loop(above)
        if loop:
            # Written in flow order; placed at the item of the circle that comes first in the file.
            start = min(loop, key=lambda name: index[name])
            at = loop.index(start)
            ordered = [start, *reversed(loop[at + 1 :] + loop[:at]), start]
            message = "the train runs in a circle: " + " -> ".join(ordered)
            yield self.document.problem(("train", index[start], "from"), message)

    def bases(self, reagents: dict[str, Any]) -> Iterator[Problem]:
        for name, reagent in reagents.items():
            given = _mapping(reagent)
            gas = given.get("state") == "gas"
            basis = given.get("basis", "mole" if gas else "mass")
            # Mole and volume fractions of a gas are the same number.
            same = {"mole", "volume"} if gas and basis in ("mole", "volume") else {basis}
            for substance, text in _mapping(given.get("composition")).items():
                said = fraction_basis(text) if isinstance(text, str) else ""
                if said and said not in same:
                    path = ("reagents", name, "composition", substance)
                    message = f"{quoted(text)} is a {said} fraction, but the basis is {basis}"
                    yield self.document.problem(path, message)


def _loop(above: dict[str, list[str]]) -> list[str]:
    """One circle of a graph given by each node's upstream nodes, [] if there is none.

    A stack and not recursion: a train may be thousands of items long.
    """
    done: set[str] = set()
    for start in above:
        trail: dict[str, None] = {}
        stack: list[tuple[str, bool]] = [(start, False)]
        while stack:
            name, leaving = stack.pop()
            if leaving:
                done.add(trail.popitem()[0])
            elif name in trail:
                return list(trail)[list(trail).index(name) :]
            elif name not in done:
                trail[name] = None
                stack.append((name, True))
                stack.extend((up, False) for up in above.get(name, ()))
    return []
