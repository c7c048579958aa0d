"""What can be shut, switched off or left flowing on a bench, in words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from review import Scenario

from ..shared.inert import has_vapour, inert_flows
from ..shared.lifts import lifts

#: Amid gas that leaked nobody goes to the set-up.
FROM_AFAR = "heat off at a switch away from the gas"
LEAVE = "leave, close the door, call"
#: Names that together are longer than this are not spelt out.
_LONGEST = 60


@dataclass(frozen=True)
class Bench:
    """What can be shut, switched off or left flowing, in words."""

    scenario: Scenario

    @property
    def feeds(self) -> str:
        """The flows to shut first; "" where all are inert."""
        inert = self._inert
        return named([n for n in self.scenario.flows if n not in inert], "every feed")

    @property
    def inert(self) -> str:
        """The flows that go on; "" where none is inert, or inert gas is all there is."""
        inert = self._inert
        alone = len(inert) == len(self.scenario.flows) and not self.scenario.heat
        return "" if alone else named(inert, "the inert gas")

    @property
    def all_flows(self) -> str:
        """Every flow."""
        return named(list(self.scenario.flows), "every flow")

    def is_inert(self, flow: str) -> bool:
        """Whether a flow is one of those that go on."""
        return bool(self.inert) and flow in self._inert

    def calm(self, at: str = "", heat: str = "heat off") -> str:
        """The course in doubt: shut, switch off, let inert gas flow."""
        inert = f"let {self.inert} flow" if self.inert else ""
        return ", ".join(p for p in (self.off(at, heat), inert) if p)

    def off(self, at: str = "", heat: str = "heat off") -> str:
        """What is shut and switched off, feed first."""
        shut = self.feeds if self.inert or self.feeds else self.all_flows
        lift = f"lift the tube out of {self.lifts}" if self.lifts and heat != FROM_AFAR else ""
        parts = (lift, f"shut {shut}{at}" if shut else "", heat if self.scenario.heat else "")
        return ", ".join(p for p in parts if p) or "stop"

    @property
    def lifts(self) -> str:
        """Out of what a tube is lifted before the heat goes off."""
        return named([lift.item for lift in lifts(self.scenario)], "the liquid")

    @property
    def until_cold(self) -> str:
        """How long to keep away."""
        return " until cold" if self.scenario.heat else ""

    def reads(self, does: str) -> str:
        """What a thermometer does, where the file claims one; a sign nobody can see is none."""
        kinds = (f"{each.kind} {each.senses or ''}" for each in self.scenario.safeguards)
        there = any("thermo" in kind or "temperature" in kind for kind in kinds)
        return f"the thermometer {does}, " if there else ""

    def meter(self, name: str, does: str) -> str:
        """What the meter of a flow does; "" where the file says that it has none."""
        flow = self.scenario.flows.get(name)
        if flow is None or flow.instrument is None:
            return f"its meter, where it has one, {does}, "
        return "" if flow.instrument.kind == "none" else f"its meter {does}, "

    def bubbles(self, does: str) -> str:
        """What bubbles do, where gas goes through a liquid."""
        return f"bubbles {does}, " if self.dips else ""

    @property
    def sounds(self) -> str:
        """A detector, where the file claims one."""
        there = any("detector" in each.kind for each in self.scenario.safeguards)
        return "a detector sounds, " if there else ""

    @property
    def dips(self) -> bool:
        """Whether gas goes through a liquid, which can climb back."""
        return any(item.dip_depth is not None for item in self.scenario.train)

    def drawn_back(self, lost: str = "") -> str:
        """What to do where liquid climbs back; a flow that is lost cannot be let in.

        Of a lost one, that no air comes in is said already.
        """
        if not self.dips or self.lifts:
            return ""
        left = [name for name in self._inert if name != lost] if self.inert else []
        if left:
            return f" If liquid climbs back, let in {named(left, 'the inert gas')}, never air."
        no_air = "" if lost else " and let no air in"
        return f" If liquid climbs back, keep clear{no_air}."

    @property
    def harms(self) -> bool:
        """Whether what is in the train may burn or poison, as far as names tell."""
        return bool(self.feeds) or self.reacts or has_vapour(self.scenario)

    @property
    def other_heat(self) -> str:
        """The rest of several heat sources."""
        return ", all other heat off" if len(self.scenario.heat) > 1 else ""

    @property
    def reacts(self) -> bool:
        """Whether something may make its own heat."""
        return bool(self.scenario.catalysts) or any(i.reactions for i in self.scenario.train)

    @cached_property
    def _inert(self) -> list[str]:
        return inert_flows(self.scenario)


def until_aired(bench: Bench) -> str:
    return LEAVE if bench.harms else "leave; come back when it runs"


def named(names: list[str], otherwise: str) -> str:
    """Names in a row; `otherwise` where they would not fit."""
    text = " and ".join(p for p in (", ".join(names[:-1]), *names[-1:]) if p)
    return text if len(text) <= _LONGEST else otherwise


def at_hood(bench: Bench) -> str:
    ventilation = bench.scenario.ventilation
    hood = ventilation is not None and ventilation.hood is not None
    return "the hood's gauge falls, " if hood else ""


def shown(name: str, signs: str, end: str = ".") -> str:
    """Signs, each ending in a comma, as one line that begins with whose they are."""
    text = f"{signs.removesuffix(', ')}{end}"
    return f"{name}: {text}" if name else f"{text[0].upper()}{text[1:]}"


def sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
