"""A scenario file as a whole. Texts come in, SI floats and plain words come out."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Collection, Mapping
from typing import Any, Literal

from pydantic import Field, PrivateAttr, model_validator

from review.scenario import units
from review.scenario.apparatus import Catalyst, Heat, ItemModel
from review.scenario.bench import (
    Frame,
    IgnitionSource,
    Intent,
    LookFor,
    Safeguard,
    Step,
    Ventilation,
)
from review.scenario.errors import Problem, path_parts
from review.scenario.feeds import Ambient, Flow, Reagent, called, poured, referred
from review.scenario.fields import Dim, Model, Name, Number, PositiveTime, Text
from review.scenario.yaml import Document, Place, Where, problem_at

__all__ = ["Dim", "Flow", "Frame", "Heat", "ItemModel", "Model", "Reagent", "Safeguard", "Scenario"]


#: The word that may stand in place of a section, and is a statement of its own.
STATEMENTS = {"frame": "stands by itself on the bench", "ignition_sources": "none in the room"}
#: What else holds glass up, by its name alone: whether it stands is as open as with none.
HOLDS_IT = re.compile(
    r"\b(?:(?:retort|ring|burette|support|iron|lab\w*) stands?|stativ\w*|clamps?|tripods?|dreifuß|"
    r"test[- ]tube racks?|reagenzglas\w*)\b",
    re.IGNORECASE,
)
#: What a file may say it has none of; that is the same as leaving the section out.
NONE_OF = ("reagents", "flows", "heat", "catalysts", "safeguards", "look_for")


#: Where an item may stand.
STANDS = ("hood", "room", "outdoors")

#: The mouth of a vessel without a joint is not stopped up from this width on: a test tube of
#: 12 mm, m (a judgement, no source).
GAPES = 0.010


#: Names of the gas that comes from the mains, as the mixture of that name has them, and what the
#: mains press with at most behind the house's regulator (common practice, no source).
MAINS = ("natural gas", "mains gas", "gas from the mains", "lab gas")
MAINS_PRESSURE = "20 mbar gauge"


class Scenario(Model):
    """One set-up and how it will be run; all numbers in SI."""

    title: Text
    purpose: Text | None = None
    prepared_by: Text | None = None
    room: Text | None = None
    """The room it stands in, by the name that people there use."""
    operators: Number | None = None
    duration: PositiveTime | None = None
    ambient: Ambient = Ambient()
    reagents: dict[Name, Reagent] = {}
    flows: dict[Name, Flow] = {}
    in_: Literal["hood", "room", "outdoors"] | None = Field(alias="in", default=None)
    """Where every item stands that does not say so itself."""
    train: list[ItemModel] = Field(min_length=1)
    heat: dict[Name, Heat] = {}
    catalysts: dict[Name, Catalyst] = {}
    ventilation: Ventilation | None = None
    frame: Frame | None = None
    procedure: list[Step] = []
    safeguards: list[Safeguard] = []
    ignition_sources: dict[Name, IgnitionSource] = {}
    """What else in the room can light gas; or the words `none in the room`."""
    intent: Intent | None = None
    look_for: list[LookFor] = []
    """Signs to look for during the run."""
    assumed: list[Text] = []
    """Paths of values that are assumed and to be checked, such as `train.tube.length`."""

    _document: Document | None = PrivateAttr(default=None)
    _statements: frozenset[str] = PrivateAttr(default=frozenset())
    _poured: tuple[tuple[str, str], ...] = PrivateAttr(default=())
    _let_in: frozenset[str] = PrivateAttr(default=frozenset())
    _charged: tuple[tuple[str, str], ...] = PrivateAttr(default=())
    _ingredients: frozenset[tuple[str, str]] = PrivateAttr(frozenset())
    _filed: Scenario | None = PrivateAttr(default=None)

    @model_validator(mode="wrap")
    @classmethod
    def _statement(cls, given: Any, handler: Callable[[Any], Scenario]) -> Scenario:
        """A word that stands for a whole section leaves it empty and is kept."""
        if not isinstance(given, Mapping):
            return handler(given)
        said = {key for key, word in STATEMENTS.items() if given.get(key) == word}
        empty = {key for key in NONE_OF if given.get(key) == "none"}
        frame = given.get("frame")
        if isinstance(frame, str) and HOLDS_IT.search(frame):
            empty.add("frame")
        scenario = handler({k: value for k, value in given.items() if k not in said | empty})
        scenario._statements = frozenset(said)
        return scenario

    @model_validator(mode="before")
    @classmethod
    def _upstream(cls, given: Any) -> Any:
        """Fill in `from` where it is left out: the previous item, nothing for the first; and `in`
        where the file says it of all."""
        train = given.get("train") if isinstance(given, Mapping) else None
        if not isinstance(train, list):
            return given
        filled, stands = [], {"in": given["in"]} if given.get("in") in STANDS else {}
        for previous, item in zip([None, *train], train, strict=False):
            if isinstance(item, Mapping) and "from" not in item:
                before = previous.get("id") if isinstance(previous, Mapping) else None
                item = {**item, "from": [before] if isinstance(before, str) and before else []}
            filled.append({**stands, **item} if isinstance(item, Mapping) else item)
        return {**given, "train": filled}

    @model_validator(mode="before")
    @classmethod
    def _open_ware(cls, given: Any) -> Any:
        train = given.get("train") if isinstance(given, Mapping) else None
        if not isinstance(train, list) or not isinstance(given.get("reagents"), Mapping):
            return given
        liquids = [item.get("liquid") for item in train if isinstance(item, Mapping)]
        return {**given, "reagents": poured(given["reagents"], liquids)}

    @model_validator(mode="before")
    @classmethod
    def _beds(cls, given: Any) -> Any:
        """A packing that is called by its reagent is what that reagent consists of."""
        train = given.get("train") if isinstance(given, Mapping) else None
        if not isinstance(train, list) or not isinstance(given.get("reagents"), Mapping):
            return given
        return {**given, "train": called(train, given["reagents"])}

    @model_validator(mode="before")
    @classmethod
    def _referred(cls, given: Any) -> Any:
        """The condition at which a volume flow of gas counts that states none."""
        flows = given.get("flows") if isinstance(given, Mapping) else None
        if not isinstance(flows, Mapping) or not isinstance(given.get("reagents"), Mapping):
            return given
        return {**given, "flows": referred(flows, given["reagents"], given.get("ambient"))}

    @model_validator(mode="before")
    @classmethod
    def _mains(cls, given: Any) -> Any:
        """Gas from the mains is known by its name: a burner's fuel need not be listed."""
        heat = given.get("heat") if isinstance(given, Mapping) else None
        listed = given.get("reagents", {}) if isinstance(given, Mapping) else None
        if not isinstance(heat, Mapping) or not isinstance(listed, Mapping):
            return given
        fuels = [each.get("fuel") for each in heat.values() if isinstance(each, Mapping)]
        held = {"as": "mains", "pressure": MAINS_PRESSURE}
        piped = {
            fuel: {"state": "gas", "composition": {MAINS[0]: "100 %"}, "held": held}
            for fuel in fuels
            if isinstance(fuel, str) and fuel in MAINS and fuel not in listed
        }
        return {**given, "reagents": {**listed, **piped}} if piped else given

    @property
    def path(self) -> str:
        """The file it was read from, '' if it was not read from one."""
        return self._document.file if self._document else ""

    @property
    def stands_by_itself(self) -> bool:
        """Whether the file says that the set-up needs no frame."""
        return "frame" in self._statements

    @property
    def nothing_ignites(self) -> bool:
        """Whether the file says that nothing else in the room can light gas."""
        return "ignition_sources" in self._statements

    def is_assumed(self, path: str) -> bool:
        """Whether the file calls the number at a dotted path, or a section it is in, assumed."""
        return any(path == each or path.startswith(f"{each}.") for each in self.assumed)

    def given(self, path: str) -> str | None:
        """The text of the file at a dotted path, items and steps by name; None for no text."""
        document = self._document
        if document is None:
            return None
        at: Any = document.data
        for part in path_parts(path):
            if isinstance(at, list):
                at = next((x for x in at if part in (x.get("id"), x.get("step"))), None)
            else:
                at = at.get(part) if isinstance(at, Mapping) else None
        return at if isinstance(at, str) else None

    @property
    def text_sha256(self) -> str:
        """SHA-256 of the file's bytes, '' if it was not read from one."""
        return self._document.sha256 if self._document else ""

    @property
    def places(self) -> dict[Where, Place]:
        """Where each value stands in the file, by path of keys and list indices."""
        return self._document.places if self._document else {}

    def item(self, id: str) -> ItemModel:
        """The item of that id; KeyError if there is none."""
        for item in self.train:
            if item.id == id:
                return item
        raise KeyError(id)

    def above(self, id: str) -> set[str]:
        """Every item whose gas comes to this one, without it."""
        before = {item.id: item.from_ for item in self.train}
        found, waiting = set[str](), [*before.get(id, ())]
        while waiting:
            each = waiting.pop()
            if each not in found:
                found.add(each)
                waiting += before.get(each, ())
        return found

    @property
    def in_use(self) -> set[str]:
        """Reagents that an item holds, a flow brings or a burner burns; the rest stays bottled."""
        named = [item.liquid for item in self.train]
        named += [heat.fuel for heat in self.heat.values()]
        return {name for name in named if name} | {flow.reagent for flow in self.flows.values()}

    @property
    def unreferred(self) -> tuple[str, ...]:
        """Volume flows of gas whose condition neither `reference` nor the unit says."""
        return tuple(
            name for name, flow in self.flows.items()
            if (said := self.places.get(("flows", name, "rate"))) is not None
            and flow.reference is not None
            and ("flows", name, "reference") not in self.places
            and not units.at_normal(said.text)
        )  # fmt: skip

    @property
    def bottles(self) -> frozenset[str]:
        """Items and reagents that the file does not have: what was poured into a vessel."""
        filed = {item.id for item in self.as_filed.train}
        return frozenset(item.id for item in self.train if item.id not in filed)

    @property
    def as_filed(self) -> Scenario:
        """The scenario as the file has it, for what breaks or is spilled there."""
        return self._filed or self

    @property
    def poured(self) -> tuple[tuple[str, str], ...]:
        """Each liquid reagent that is poured into a vessel, with that vessel."""
        return self._poured

    @property
    def let_in(self) -> tuple[tuple[str, str], ...]:
        """The same, with what closed vessels are charged with."""
        return self._poured + self._charged

    @staticmethod
    def bottle(reagent: str, vessel: str) -> str:
        """The name of what is poured from a bottle into a vessel."""
        return f"{reagent} poured into {vessel}"

    def filled_from(self, reagent: str) -> list[ItemModel]:
        """The items that hold what came out of a reagent's bottle, and those that it is fed to."""
        poured = {self.bottle(*each) for each in self._poured if each[0] == reagent}
        poured |= {flow.into for flow in self.flows.values() if flow.reagent == reagent}
        return [i for i in self.train if i.liquid == reagent or i.id in poured]

    @property
    def out_of_bottles(self) -> dict[str, str]:
        """Each liquid reagent with the first item that it fills or is fed to."""
        found = ((name, self.filled_from(name)) for name in self.reagents)
        return {
            name: items[0].id for name, items in found
            if items and self.reagents[name].state == "liquid"
        }  # fmt: skip

    @property
    def let_in_by_flow(self) -> frozenset[str]:
        """Liquids that a flow of the file lets into the vessel that they are poured into."""
        return self._let_in

    def without_flows(self, gone: Collection[str]) -> Scenario:
        """The scenario in which these flows are not: what they bring is poured."""
        kept = {name: flow for name, flow in self.flows.items() if name not in gone}
        steps = [
            step.model_copy(update={
                "flows": {name: on for name, on in step.flows.items() if name not in gone},
                "hold": [name for name in step.hold if name not in gone],
            })
            for step in self.procedure
        ]  # fmt: skip
        out = self.model_copy(update={"flows": kept, "procedure": steps})
        out._let_in = frozenset(self.flows[name].reagent for name in gone)
        return out

    @property
    def ingredients(self) -> frozenset[tuple[str, str]]:
        """What of `poured` the vessel's liquid was made of: it was poured before the start."""
        return self._ingredients

    def with_poured(
        self, filed: Scenario, reagent: str, vessel: str, *, ingredient: bool = False
    ) -> Scenario:
        """The scenario, otherwise as it is filed, in which this is poured besides."""
        out = self.model_copy()
        out._poured, out._filed = (*self._poured, (reagent, vessel)), filed
        out._ingredients = self._ingredients | ({(reagent, vessel)} if ingredient else frozenset())
        return out

    def with_charge(self, reagent: str, vessel: str) -> Scenario:
        """The scenario in which a closed vessel is charged with this."""
        out = self.model_copy()
        out._charged = (*self._charged, (reagent, vessel))
        return out

    @property
    def gaping(self) -> set[str]:
        """Open vessels and their mouths: nothing is joined to them that could be stopped up.

        What plugs a tube that dips into one plugs what stands before it.
        """
        before = {i for item in self.train if item.to is None for i in item.from_}
        found = set[str]()
        for item in self.train:
            if item.to is None or len(item.from_) != 1 or not item.open:
                continue
            vessel = self.item(item.from_[0])
            mouth = min(vessel.mouth or math.inf, item.inner_diameter or vessel.open_width)
            bare = vessel.dip_depth is None or bool(vessel.from_)
            bare = bare and vessel.joint == "none"
            bare = bare and (vessel.packing is None or not vessel.packing.is_bed)
            bare = bare and (vessel.capacity is not None or vessel.gas_volume is not None)
            if bare and vessel.open and mouth >= GAPES and vessel.id not in before:
                found |= {vessel.id, item.id, *self._trough_under(vessel)}
        return found

    def _trough_under(self, jar: ItemModel) -> set[str]:
        """The open trough in whose water a jar stands upside down, if it alone stands there."""
        if len(jar.from_) != 1:
            return set()
        trough = self.item(jar.from_[0])
        after = [item.id for item in self.train if trough.id in item.from_]
        wide = trough.joint == "none" and trough.open and trough.open_width >= GAPES
        wide = wide and trough.dip_depth is not None and trough.liquid is not None
        return {trough.id} if wide and after == [jar.id] else set()

    def reference(self, flow: str) -> tuple[float, float]:
        """Temperature (K) and absolute pressure (Pa) at which a flow's volume is stated.

        Ambient where the flow states no reference or says `ambient`.
        """
        stated = self.flows[flow].reference
        if stated is None or stated.temperature is None or stated.pressure is None:
            return self.ambient.temperature, self.ambient.pressure
        return stated.temperature, stated.pressure

    def problem(
        self, path: Where | str, message: str, suggestion: str = "", *, at_key: bool = False
    ) -> Problem:
        """A problem at a path of the file, for later stages to raise in an InputError.

        The path is a tuple of keys and indices, or dotted as `numbers` writes it; an item's id and
        a step's name may stand for their index. An unknown path gives the nearest enclosing place.
        With `at_key` the last key itself is meant, not its value.
        """
        parts: list[str | int] = list(path_parts(path) if isinstance(path, str) else path)
        if len(parts) > 1 and isinstance(parts[1], str):
            names: list[str] = []
            if parts[0] == "train":
                names = [item.id for item in self.train]
            elif parts[0] == "procedure":
                names = [step.step for step in self.procedure]
            if parts[1] in names:
                parts[1] = names.index(parts[1])
        if len(parts) > 3 and parts[2] == "reactions":
            parts[3] = int(parts[3])
        keys = self._document.keys if at_key and self._document else self.places
        return problem_at(self.path, keys, tuple(parts), message, suggestion)
