"""Names of a scenario looked up: substances, materials, joints, kinds of items, reactions.

What is wrong goes to one list, so that a file's problems are told all at once.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from contextlib import suppress

from review.interface.items import ItemKind
from review.physics.gas import R
from review.reference.dreaded import dreaded
from review.reference.finding import Reference, Substance, UnknownName
from review.scenario import Problem, Scenario, keys, numbers
from review.scenario.models import Flow, Reagent
from review.scenario.models import ItemModel as Item
from review.scenario.sizes import other_glass, sold_in
from review.scenario.words import folded
from review.scenario.yaml import Where
from review.walk.contradicted import the_worse
from review.walk.hidden import bathed, doubted, dropped, heated, poured
from review.walk.reactions import Term, given_off, net, no_gas, parse_equation
from review.walk.settled import settled
from review.walk.written_out import written_out

#: Two ways of stating an amount may differ by so much: real gases, a rounded pressure.
AS_GOOD_AS = 1.5

#: A joint only pushed together that is said to hold more than so many times its table is another
#: kind of joint; up to there it slides apart before glass with its margin breaks (a judgement).
MOST_OF_LIFTED = 5.0
#: What a joint holds that is left out counts whole where the table knows it, as half where it is
#: estimated: what is stated to hold less, beyond rounding, is no joint of its kind.
ROUNDED, ESTIMATED_AS = 0.99, 0.495
#: A joint that holds less than most.
WEAK = "pushed-on hose"

#: All of a reactant, with room for rounding.
WHOLE = 1.001


def moles_of(reagent: Reagent, substance: Substance) -> float:
    """What a share of a composition, by mole, mass or volume, is in moles; NaN where not known.

    Parts by volume of a liquid are those measured before they are mixed.
    """
    if reagent.basis == "mass":
        return 1 / substance.molar_mass
    if reagent.basis == "volume" and reagent.state != "gas":
        return substance.number("liquid_density") / substance.molar_mass
    return 1.0


#: Where a word of another list stands, if somebody takes it for a kind of item.
STANDS_AT = {
    "heat": "write it under heat, with the item that it heats",
    "safeguard": "write it under safeguards",
    "catalyst form": "write it under catalysts, as the form of one that is in an item",
    "hood": "write it under ventilation, as the hood; the item that leads into it is an outlet",
    "exhaust": "write it under ventilation, as where the hood's exhaust goes",
    "instrument": "write it at the flow that it shows, as instrument: {kind, calibration_gas}",
}


class Resolver:
    """Looks names up; `problems` holds whatever no name answers to, with its place in the file."""

    def __init__(
        self, scenario: Scenario, reference: Reference, known: Mapping[str, ItemKind]
    ) -> None:
        self.problems: list[Problem] = []
        self.notes: list[str] = []
        written = written_out(scenario, reference, self.problems)
        implied = doubted(settled(written, reference, self.notes), reference)
        implied = bathed(heated(implied))
        implied, into = dropped(the_worse(implied, reference), reference, known)
        self.scenario = poured(implied, reference, known, into)
        self.found: dict[str, Substance] = {}
        self.reactions: dict[str, tuple[tuple[Term, ...], ...]] = {}
        self.liquids: dict[str, dict[str, float]] = {}
        self.bottled: dict[str, dict[str, float]] = {}
        self._reference, self._known = reference, known

    def everything(self) -> list[ItemKind]:
        """Look every name of the scenario up; the kind of each item."""
        self.reagents()
        chosen = self.kinds(numbers(self.scenario))
        for i, item in enumerate(self.scenario.train):
            self.item(i, item)
        for name, flow in self.scenario.flows.items():
            self.flow(name, flow)
        self.surroundings()
        self.ends(chosen)
        return chosen

    def wrong(
        self, path: Where, message: str, nearest: Sequence[str] = (), *, at_key: bool = False
    ) -> None:
        """Note a problem at a place of the file."""
        hint = nearest[0] if nearest else ""
        self.problems.append(self.scenario.problem(path, message, hint, at_key=at_key))

    def substance(self, text: str, path: Where) -> Substance | None:
        """The substance of that name, None after noting that there is none."""
        try:
            substance = self._known_or_looked_up(text)
        except UnknownName as unknown:
            near = [self._reference.described(name) for name in unknown.nearest[:1]]
            said = unknown.why or f'unknown substance "{text}"'
            if harm := dreaded(text, " ".join(near)):
                said, near = f"{said}: {harm}; no check here knows it, leave it out", []
            self.wrong(path, said, near, at_key=path[-1] == text)
            return None
        self.found.setdefault(substance.name, substance)
        return substance

    def _known_or_looked_up(self, text: str) -> Substance:
        """What a file says, else what a library's data sets do, which is noted."""
        try:
            found = self._reference.substance(text)
            if not found.looked_up:
                return found
        except UnknownName as unknown:
            if unknown.why:
                raise
            if self._is_material(text):
                raise
            try:
                found = self._reference.look_up(text)
            except UnknownName:
                raise unknown from None
        said = f"{found.name} ({found.formula}, CAS {found.cas})"
        note = f'"{text}" was looked up and taken for {said}: check that this is what you have'
        if found.looked_up:
            note += (
                "; no file describes it: exposure limits, IDLH, reactivity and whatever else the "
                "library lacks count as unknown"
            )
        if note not in self.notes:
            self.notes.append(note)
        return found

    def reagents(self) -> None:
        """Every component of every reagent."""
        for name, reagent in self.scenario.reagents.items():
            for text in reagent.composition:
                path: Where = ("reagents", name, "composition", text)
                substance = self.substance(text, path)
                if substance is not None and math.isnan(moles_of(reagent, substance)):
                    said = f"how dense {substance.name} is as a liquid is not known"
                    self.wrong(path, f"{said}: state the composition by mass")
            self._amount(name, reagent)
            if reagent.state == "liquid" and not self.problems:
                self.bottled[name] = self._moles(name, reagent)

    def _amount(self, name: str, reagent: Reagent) -> None:
        """An amount of gas that its cylinder cannot hold, or far less than its pressure says."""
        held, stated = reagent.held, reagent.amount
        if reagent.state != "gas" or stated is None or held is None:
            return
        if held.volume is None or held.pressure is None:
            return
        found = [self.found[s] for s in map(self._named, reagent.composition) if s in self.found]
        shares = list(reagent.composition.values())
        if len(found) != len(shares):
            return
        room = self.scenario.ambient
        moles = held.pressure * held.volume / (R * room.temperature)
        given = stated.value
        if stated.by == "volume":
            given = room.pressure * given / (R * room.temperature)
        elif stated.by == "mass":
            masses = [s.molar_mass for s in found]
            if reagent.basis == "mass":
                given *= sum(x / m for x, m in zip(shares, masses, strict=True))
            else:
                given /= sum(x * m for x, m in zip(shares, masses, strict=True))
        # What is liquid in the cylinder is more than its pressure says; nothing is much less.
        permanent = all(s.number("critical_temperature") < room.temperature for s in found)
        if given < moles / AS_GOOD_AS or (permanent and given > moles * AS_GOOD_AS):
            said = f"volume and pressure of the cylinder say {moles:.3g} mol, this {given:.3g} mol"
            self.wrong(("reagents", name, "amount"), said)

    def _named(self, text: str) -> str:
        """The name of a substance, '' where nobody knows it."""
        try:
            return self._known_or_looked_up(text).name
        except UnknownName:
            return ""

    def kinds(self, given: Mapping[str, float]) -> list[ItemKind]:
        """The kind of each item that has one, with the fields it needs."""
        chosen = []
        for i, item in enumerate(self.scenario.train):
            kind = self._known.get(folded(item.kind))
            if kind is None:
                nearest = difflib.get_close_matches(folded(item.kind), self._known, 1, 0.5)
                known = ", ".join(sorted({kind.id for kind in self._known.values()}))
                said = f'unknown kind of item "{item.kind}"; known are {known}'
                for other in self._reference.words.holding(item.kind):
                    said, nearest = f'"{item.kind}" is no item: {STANDS_AT[other]}', []
                self.wrong(("train", i, "kind"), said, nearest)
                continue
            chosen.append(kind)
            lacking = [self._lacking(wanted, item, given) for wanted in kind.requires]
            if needed := "; ".join(filter(None, lacking)):
                dry = "liquid" in kind.requires and item.liquid is None
                needed += '; an empty one is a "trap"' if dry else ""
                self.wrong(("train", i, "kind"), f"a {kind.id} needs {needed}")
            for field, least in kind.presumed:
                if given.get(f"train.{item.id}.{field}", least) < least:
                    said = f"below {least * 1e3:g} mm: state a drawn tip as a line of its own"
                    self.wrong(("train", i, field), said)
            if item.liquid is not None and not kind.holds_liquid:
                self.wrong(("train", i, "liquid"), self._stands_in_none(kind.id, item.liquid))
            if item.packing is not None and not (kind.packed or self._loose(kind, item)):
                said = f"a packing in a {kind.id} is not reckoned with: write it as a column"
                if kind.holds_liquid and item.dip_depth is None:
                    said += ", or of what lies loose in it its material alone"
                self.wrong(("train", i, "packing"), said)
        return chosen

    @staticmethod
    def _loose(kind: ItemKind, item: Item) -> bool:
        """Whether a packing of which only the material is stated lies loose in a vessel."""
        below = item.dip_depth is not None and item.liquid is None
        bed = item.packing is None or item.packing.is_bed
        return kind.holds_liquid and not (bed or below)

    def _stands_in_none(self, kind: str, name: str) -> str:
        """What to write where a liquid or solid is said to stand in an item that holds none."""
        reagent = self.scenario.reagents.get(name)
        if reagent is not None and reagent.state == "solid":
            return f"no loose solid lies in a {kind}: write it as packing: {{material: ...}}"
        return f"no liquid stands in a {kind}: write it as an item of its own, a vessel"

    def _lacking(self, wanted: str, item: Item, given: Mapping[str, float]) -> str:
        """What an item's kind needs and it does not give, '' where it does; any one field of it."""
        fields = wanted.split("|")
        if any(f"train.{item.id}.{field}" in given for field in fields) or any(
            getattr(item, field, None) is not None for field in fields
        ):
            return ""
        return " or ".join(f'"{field}"{keys.described("train.ITEM", field)}' for field in fields)

    def item(self, i: int, item: Item) -> None:
        """What an item is made of, holds, takes up and lets react."""
        for part in ("material", "lining", "joint_material"):
            self.material(getattr(item, part), ("train", i, part))
        if item.packing is not None:
            self.material(item.packing.material, ("train", i, "packing", "material"), solid=True)
        if item.joint is not None:
            self._joint(i, item, item.joint)
        self._made(i, item)
        made = sold_in(item.size, of_glass=self._is_glass(item.material)) if item.size else ""
        said = self._is_material(item.material or made) if made else ""
        if said not in ("", made, "fused quartz"):
            self.wrong(("train", i, "size"), other_glass(str(item.size), said))
        elif (item.size or "").lower().startswith("glass ") and not self._is_glass(item.material):
            said = f'a glass tube of {item.material}: write "{str(item.size)[6:]}" as its size'
            self.wrong(("train", i, "size"), said)
        self.reactions[item.id] = tuple(self._equations(i, item))
        for text in item.absorbs:
            self.substance(text, ("train", i, "absorbs", text))
        if item.liquid is not None:
            self.liquids[item.id] = self._liquid(item.liquid, i)

    def _made(self, i: int, item: Item) -> None:
        """Note glass that is said to be home-made, and is bought by its joint."""
        kind = self._known.get(folded(item.kind))
        tube = kind is None or kind.packed  # it is clamped into a connector, cut by whomever
        if item.home_made != "yes" or tube or not self._is_glass(item.material):
            return
        with suppress(UnknownName):
            if item.joint is not None and self._reference.joint(item.joint).bought:
                said = (
                    "glass with a ground joint, thread or flange is bought: of what was altered "
                    'at home write what it was tested for, "rating", instead'
                )
                self.wrong(("train", i, "home_made"), said)

    def _joint(self, i: int, item: Item, name: str) -> None:
        """Note a kind of joint nobody knows, and a rating that no joint of its kind can have."""
        try:
            joint = self._reference.joint(name)
        except UnknownName as unknown:
            self.wrong(("train", i, "joint"), f'unknown joint "{name}"', unknown.nearest)
            return
        wall = self._is_material(item.material or "")
        table = joint.holds(
            item.inner_diameter, self._reference.material(wall).kind if wall else ""
        )
        if item.joint_rating is None or table.value is None:
            return
        over, bar = item.joint_rating - self.scenario.ambient.pressure, f"{table.value / 1e5:g} bar"
        if joint.lifts and not over <= MOST_OF_LIFTED * table.value:
            said = f"no {name}, only pushed together, holds so much (about {bar}): name the joint "
            said += "that does, such as 'wired stopper', 'screw-thread connector', "
            self.wrong(("train", i, "joint_rating"), said + "'flange with clamp'")
        elif not over >= table.value * (ESTIMATED_AS if table.how == "estimated" else ROUNDED):
            said = f"a {name} holds {bar} at the least: leave this out"
            weak = self._reference.joint(WEAK).rating.value
            if weak is not None and weak < table.value:
                said += f", or name the joint that holds less ({WEAK})"
            self.wrong(("train", i, "joint_rating"), said)

    def material(self, text: str | None, path: Where, *, solid: bool = False) -> None:
        """Note a material nobody knows; `solid`: a substance may stand there too."""
        if text is None:
            return
        try:
            self._reference.material(text)
        except UnknownName as unknown:
            with suppress(UnknownName):
                if solid and self._reference.substance(text):
                    return
            self.wrong(path, f'unknown material "{text}"', unknown.nearest)

    def _is_material(self, text: str) -> str:
        """The name of the material that is called so, '' where none is."""
        with suppress(UnknownName):
            return self._reference.material(text).name
        return ""

    def _is_glass(self, text: str | None) -> bool:
        """Whether a material is a glass; what is not stated or not known may be."""
        name = "" if text is None else self._is_material(text)
        return not name or self._reference.material(name).kind == "glass"

    def surroundings(self) -> None:
        """What heaters, catalysts and the frame are made of."""
        for name, heat in self.scenario.heat.items():
            self.material(heat.casing, ("heat", name, "casing"))
            if heat.insulation != "none":
                self.material(heat.insulation, ("heat", name, "insulation"))
        for name, catalyst in self.scenario.catalysts.items():
            self.material(catalyst.material, ("catalysts", name, "material"), solid=True)
        rods = self.scenario.frame.rods if self.scenario.frame else {}
        for name, rod in rods.items():
            self.material(rod.material, ("frame", "rods", name, "material"))

    def _equations(self, i: int, item: Item) -> list[tuple[Term, ...]]:
        equations: list[tuple[Term, ...]] = []
        converted: dict[str, float] = {}
        for n, reaction in enumerate(item.reactions):
            place: Where = ("train", i, "reactions", n)
            try:
                terms = parse_equation(
                    reaction.equation, self._reference, tuple(self.found.values())
                )
            except (ValueError, UnknownName) as error:
                self.wrong((*place, "equation"), str(error))
                continue
            for term in terms:
                if term.substance is not None:
                    self.found.setdefault(term.substance.name, term.substance)
            limiting = self.substance(reaction.limiting, (*place, "limiting"))
            reactants = {t.substance.name for t in terms if t.substance and t.coefficient < 0}
            if limiting is None and (item.liquid is not None or not reactants):
                if said := given_off(terms, reaction.equation, item.id) or no_gas(terms):
                    self.wrong((*place, "equation"), f"no gas is on its left{said}")
            elif limiting is not None and limiting.name not in reactants:
                said = f'"{reaction.limiting}" is no gas on the left of the reaction'
                advice = given_off(terms, reaction.equation, item.id) or no_gas(terms)
                self.wrong((*place, "equation" if advice else "limiting"), said + advice)
            elif limiting is not None and net(terms, limiting) >= 0:
                said = f'the reaction leaves as much "{reaction.limiting}" as it takes'
                self.wrong((*place, "limiting"), said)
            elif limiting is not None:
                share = reaction.conversion * reaction.selectivity
                converted[limiting.name] = gone = converted.get(limiting.name, 0.0) + share
                if gone > WHOLE:
                    said = f"more than all of the {limiting.name} converts: {100 * gone:.4g} %"
                    self.wrong((*place, "conversion"), said)
            equations.append(terms)
        return equations

    def _liquid(self, text: str, item: int) -> dict[str, float]:
        """Mole fractions of a held liquid: a reagent's composition, or one substance."""
        reagent = self.scenario.reagents.get(text)
        if reagent is None:
            substance = self.substance(text, ("train", item, "liquid"))
            return {} if substance is None else {substance.name: 1.0}
        return self._moles(text, reagent)

    def _moles(self, name: str, reagent: Reagent) -> dict[str, float]:
        """Mole fractions of a reagent."""
        moles: dict[str, float] = {}
        for component, share in reagent.composition.items():
            substance = self.substance(component, ("reagents", name, "composition", component))
            if substance is not None:
                amount = share * moles_of(reagent, substance)
                moles[substance.name] = moles.get(substance.name, 0.0) + amount
        total = sum(moles.values())
        return {s: n / total for s, n in moles.items()} if total > 0 else {}

    def flow(self, name: str, flow: Flow) -> None:
        """What the meter of a flow was made for."""
        instrument = flow.instrument
        path: Where = ("flows", name, "instrument")
        if instrument is None or instrument.kind not in ("float meter", "mass flow controller"):
            return
        if instrument.calibration_gas is None:
            if instrument.kind == "float meter":
                self.wrong(
                    path,
                    'a float meter needs "calibration_gas", the gas on its scale, such as '
                    "{kind: float meter, calibration_gas: air}",
                )
        elif instrument.calibration_gas != "air":
            self.substance(instrument.calibration_gas, (*path, "calibration_gas"))

    def ends(self, chosen: Sequence[ItemKind]) -> None:
        """Gas that is fed in leaves somewhere."""
        if not self.scenario.flows or not chosen or any(kind.is_end for kind in chosen):
            return
        last = len(self.scenario.train) - 1
        self.wrong(
            ("train", last, "id"),
            f'the train ends at "{self.scenario.train[last].id}" without an outlet: add an item of '
            'kind "outlet" that says where the gas goes',
        )
