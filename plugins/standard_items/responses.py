"""What the operator sees of each failure, and does at once: a line each.

All of it is general trade practice: common practice, no source. The site's own emergency procedure
comes before it, which whoever prints these lines says. What the lines keep to:

- What burns, oxidises or poisons is shut first, then the heat goes off; inert gas flows on.
- With something hot no air is let in and nothing is opened; a vacuum is broken with inert gas.
- A blockage is the exception: every flow stops first, inert gas too, and nothing under pressure is
  opened.
- Heat that goes off does not stop a reaction that makes its own heat; its feed does.
- Nobody goes to a leak, a breakage or a failed hood to mend it: shut off from outside, leave, call.

- What looks like a lost flow may be a blockage: the pressure tells them apart, and is asked first.
- Amid gas that leaked, nothing is switched; the heat goes off from further away.

Which flows count as inert, `inert` says. Where nothing else is fed in and nothing is heated, inert
gas is shut like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from review import Overlay, Scenario

from .inert import has_vapour, inert_flows
from .power import without_power

#: Names that together are longer than this are not spelt out.
_LONGEST = 60

_LEAVE = "leave, close the door, call"
_FROM_AFAR = "heat off at a switch away from the gas"


def described(scenario: Scenario, upsets: Iterable[Overlay]) -> Iterator[Overlay]:
    """The same failures with what is seen and what to do; unchanged where nobody can say."""
    bench = Bench(scenario)
    for upset in upsets:
        kind, *rest = upset.id.split(":")
        says = _SAYS.get(kind)
        if says is None:
            yield upset
        else:
            sign, response = says(bench, rest[0])
            yield replace(upset, sign=sign, response=response)


@dataclass(frozen=True)
class Bench:
    """What can be shut, switched off or left flowing, in words."""

    scenario: Scenario

    @property
    def feeds(self) -> str:
        """The flows to shut first; "" where all are inert."""
        inert = self._inert
        return _named([n for n in self.scenario.flows if n not in inert], "every feed")

    @property
    def inert(self) -> str:
        """The flows that go on; "" where none is inert, or inert gas is all there is."""
        inert = self._inert
        alone = len(inert) == len(self.scenario.flows) and not self.scenario.heat
        return "" if alone else _named(inert, "the inert gas")

    @property
    def all_flows(self) -> str:
        """Every flow."""
        return _named(list(self.scenario.flows), "every flow")

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
        parts = (f"shut {shut}{at}" if shut else "", heat if self.scenario.heat else "")
        return ", ".join(p for p in parts if p) or "stop"

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
        if not self.dips:
            return ""
        left = [name for name in self._inert if name != lost] if self.inert else []
        if left:
            return f" If liquid climbs back, let in {_named(left, 'the inert gas')}, never air."
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


Says = Callable[[Bench, str], tuple[str, str]]


def _flow_lost(bench: Bench, name: str) -> tuple[str, str]:
    seen = bench.meter(name, "falls to zero") + bench.bubbles("stop or slow down")
    sign = _seen(name, seen or "nothing but its gauge or bottle shows it, ")
    then = ", then heat off" if bench.scenario.heat else ""
    plug = f"If the pressure climbs, it is a blockage: shut every flow{then}. Else "
    if bench.is_inert(name):
        back = f"bring {name} back if a valve is all it takes"
        return (
            sign,
            f"{plug}{bench.off()}. Open nothing, let no air in; {back}.{bench.drawn_back(name)}",
        )
    by_hand = " by hand, so that nothing comes back by itself"
    return sign, f"{plug}{bench.calm(by_hand)}.{bench.drawn_back()}"


def _flow_at_its_most(bench: Bench, name: str) -> tuple[str, str]:
    seen = bench.meter(name, "stands at the top") + bench.bubbles("run wild")
    sign = _seen(name, f"{seen}the pressure climbs, ")
    if bench.is_inert(name):
        return sign, (
            f"Throttle {name} by hand, do not shut it off. If that fails: {bench.off()}; if the "
            f"pressure still climbs, shut {name} at its supply too."
        )
    return sign, _sentence(bench.calm(" at the supply"))


def _regulator_failed(bench: Bench, name: str) -> tuple[str, str]:
    first = "Shut the cylinder valve if you reach it without passing the set-up"
    # With the failed one alone, its cylinder's valve is all there is to shut.
    shut = f", shut {bench.feeds}" if bench.feeds and len(bench.scenario.flows) > 1 else ""
    heat = ", heat off" if bench.scenario.heat else ""
    return (
        "The gauge after the regulator climbs, gas hisses, joints creep or fly off.",
        f"{first}{shut}{heat}. Keep clear of the glass; gas is out: {_LEAVE}.",
    )


def _wrong_scale(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"{name}: nothing on the meter itself; a bubble meter shows another rate.",
        f"{_sentence(bench.calm())} Set it anew on the scale for this gas before going on.",
    )


def _flow_not_stopped(bench: Bench, name: str) -> tuple[str, str]:
    seen = bench.meter(name, "does not fall to zero") + bench.bubbles("go on")
    sign = _seen(name, seen or "gas or liquid goes on coming, ", " when it is shut.")
    if bench.is_inert(name):
        return sign, "Shut it at the supply; do not go on to the next step before that."
    return sign, f"{_sentence(bench.calm(' at the supply'))} Do not go on to the next step."


def _heat_at_its_most(bench: Bench, name: str) -> tuple[str, str]:
    burns = bench.scenario.heat[name].energy == "flame"
    where = "its gas valve" if burns else "its mains plug"
    off = f"{name} off at {where}{bench.other_heat}"
    goes_on = ": a reaction may go on heating by itself" if bench.reacts else " until cold"
    return (
        f"{name}: {bench.reads('climbs past its setting')}hot parts glow or smell.",
        f"{_sentence(bench.calm(heat=off))} Keep clear{goes_on}.",
    )


def _heat_lost(bench: Bench, name: str) -> tuple[str, str]:
    off = f"{name} off, so that it does not start by itself{bench.other_heat}"
    return (
        f"{name}: {bench.reads('falls')}it cools although it is on.",
        f"{_sentence(bench.calm(heat=off))}{bench.drawn_back()}",
    )


def _flame_out(bench: Bench, name: str) -> tuple[str, str]:
    shut = f" Shut {bench.feeds}." if bench.feeds else ""
    return (
        f"{name}: no flame, gas hisses; do not wait for a smell.",
        f"Shut the burner's gas. No switch, no spark, no relighting before the room is aired.{shut}"
        f" Gas is out: {_LEAVE}.",
    )


def _blocked(bench: Bench, name: str) -> tuple[str, str]:
    rises = " or liquid rises" if bench.dips else ""
    which = "every flow at its supply, inert gas too" if bench.inert else "every flow at its supply"
    heat = ", then heat off" if bench.scenario.heat else ""
    return (
        _seen("", f"{bench.bubbles('stop')}the pressure climbs, a stopper creeps{rises}, "),
        f"Shut {which}{heat}. Keep clear of the glass; open no joint under pressure.",
    )


def _open_outward(bench: Bench, name: str) -> tuple[str, str]:
    seen = f"gas hisses, {bench.bubbles('fade')}{bench.sounds}"
    return (
        _seen("", seen, "; do not wait for a smell."),
        f"Do not go to the leak. {_sentence(bench.calm(' at the supply', _FROM_AFAR))} "
        f"Ventilation stays on; {_LEAVE}.",
    )


def _open_inward(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"Often nothing; a faint hiss{', or liquid that climbs back' if bench.dips else ''}.",
        f"{_sentence(bench.calm())} Do not touch the joint, open nothing, "
        f"keep clear{bench.until_cold}.{bench.drawn_back()}",
    )


def _broken(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "A crack or splinters, gas hisses, liquid on the bench.",
        "Keep away from the glass, no water on it. "
        f"{_sentence(bench.calm(' at the supply', _FROM_AFAR))} Gas or liquid is out: {_LEAVE}.",
    )


def _suction_lost(bench: Bench, name: str) -> tuple[str, str]:
    bubbles = bench.bubbles("stop").removesuffix(", ")
    changes = f"its sound changes{f', {bubbles}' if bubbles else ''}"
    sign = f"{name}: {changes}; water may climb towards the train."
    shut = "Shut the tap before the trap bottle."
    if bench.harms or bench.scenario.heat:
        vacuum = f"Break the vacuum with {bench.inert or 'inert gas'}, never air."
        return sign, f"{shut} {_sentence(bench.calm())} {vacuum}"
    return sign, f"{shut} Vent the trap bottle; only then turn the pump off."


def _cooling_lost(bench: Bench, name: str) -> tuple[str, str]:
    sign = "No water runs from the condenser, it gets warm, vapour at the vent."
    if any(item.id == name and item.coolant_temperature is None for item in bench.scenario.train):
        sign = f"{name}: its bath has melted or boiled away, frost goes, vapour at the vent."
    return sign, f"{_sentence(bench.calm())} At a smell or an alarm: {_LEAVE}."


def _spilled(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Liquid on the bench or the floor.",
        f"{_sentence(bench.calm())} Touch nothing, {_LEAVE}.",
    )


def _spent(bench: Bench, name: str) -> tuple[str, str]:
    return (
        _seen("", f"the indicator changes, {bench.bubbles('no longer shrink')}{bench.sounds}"),
        f"{_sentence(bench.calm())} At the alarm: {_LEAVE}.",
    )


def _no_reaction(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "No warming, no product.",
        f"{_sentence(bench.calm())} Do not heat more to force it: "
        "what has gathered may react all at once.",
    )


def _reaction_complete(bench: Bench, name: str) -> tuple[str, str]:
    # What decomposes without a feed is stopped by nothing but cold.
    stops = "Shutting the feed stops it, heat off alone does not" if bench.feeds else (
        "It may go on by itself"
    )  # fmt: skip
    return (
        "The bed runs hotter than planned, perhaps on after the heat is off.",
        f"{_sentence(bench.calm())} {stops}; keep clear{bench.until_cold}.",
    )


def _ventilation_lost(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"The fan is silent, {_at_hood(bench)}a strip of tissue hangs still.",
        f"{_sentence(bench.calm(' at the supply'))} {_sentence(_until_aired(bench))}",
    )


def _power_lost(bench: Bench, name: str) -> tuple[str, str]:
    lost = without_power(bench.scenario, name)
    fan = ("ventilation",) if lost.ventilation_stops else ()
    stops = _named([*lost.closes, *lost.heat_off, *lost.pumps, *fan], "all that hangs on the power")
    goes_on = _named([*lost.stays, *lost.heat_on], "all that does not hang on the power")
    most = _named(list(lost.opens), "the controlled flows")
    signs = (
        "Lights and displays go out.",
        f"Stops: {stops}." if stops else "",
        f"Runs at its most, if it was on: {most}." if most else "",
        f"Goes on, if it was on: {goes_on}." if goes_on else "",
    )
    switched = "every heat source off, so that none starts again by itself"
    stopped = any(bench.is_inert(flow) for flow in lost.closes)
    off = bench.off(" by hand", switched) if stopped else bench.calm(" by hand", switched)
    parts = (
        _sentence(off),
        "Open nothing, let no air in." if stopped and bench.scenario.heat else "",
        "If liquid climbs back, keep clear." if stopped and bench.dips else "",
        f"No ventilation: {_until_aired(bench)}." if fan else "",
    )
    return " ".join(s for s in signs if s), " ".join(p for p in parts if p)


def _power_back(bench: Bench, name: str) -> tuple[str, str]:
    back = without_power(bench.scenario)
    starts = _named(list(back.starts), "every heater")
    off = bench.calm(" by hand", f"{starts} off at the mains plug")
    return (
        f"Lights come on again; {starts} heats by itself.",
        f"{_sentence(off)} Begin again with the first step, when all is cold and the ventilation "
        "runs.",
    )


def _left_on(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Somebody comes in and finds it running.",
        f"{_sentence(bench.calm())} At a smell or an alarm: {_LEAVE}.",
    )


def _wrong_position(bench: Bench, name: str) -> tuple[str, str]:
    return (
        _seen(name, f"its handle does not stand as the step says, {bench.bubbles('go elsewhere')}"),
        f"{_sentence(bench.calm())} Do not turn it under pressure or while anything is hot.",
    )


def _out_of_order(bench: Bench, name: str) -> tuple[str, str]:
    cold = ", wait until all is cold" if bench.scenario.heat else ""
    return (
        "The steps ticked do not follow the plan.",
        f"Do not catch up in a hurry: {bench.calm()}{cold}. Then begin again with the first step.",
    )


_SAYS: Mapping[str, Says] = {
    "flow lost": _flow_lost,
    "flow at its most": _flow_at_its_most,
    "regulator failed": _regulator_failed,
    "wrong scale": _wrong_scale,
    "flow not stopped": _flow_not_stopped,
    "heat at its most": _heat_at_its_most,
    "heat lost": _heat_lost,
    "flame out": _flame_out,
    "blocked": _blocked,
    "joint open outward": _open_outward,
    "joint open inward": _open_inward,
    "broken": _broken,
    "suction lost": _suction_lost,
    "cooling lost": _cooling_lost,
    "spilled": _spilled,
    "absorbent spent": _spent,
    "no reaction": _no_reaction,
    "reaction complete": _reaction_complete,
    "ventilation lost": _ventilation_lost,
    "power lost": _power_lost,
    "power back": _power_back,
    "left on": _left_on,
    "wrong position": _wrong_position,
    "skipped": _out_of_order,
    "swapped": _out_of_order,
}


def _until_aired(bench: Bench) -> str:
    return _LEAVE if bench.harms else "leave; come back when it runs"


def _named(names: list[str], otherwise: str) -> str:
    """Names in a row; `otherwise` where they would not fit."""
    text = " and ".join(p for p in (", ".join(names[:-1]), *names[-1:]) if p)
    return text if len(text) <= _LONGEST else otherwise


def _at_hood(bench: Bench) -> str:
    ventilation = bench.scenario.ventilation
    hood = ventilation is not None and ventilation.hood is not None
    return "the hood's gauge falls, " if hood else ""


def _seen(name: str, signs: str, end: str = ".") -> str:
    """Signs, each ending in a comma, as one line that begins with whose they are."""
    text = f"{signs.removesuffix(', ')}{end}"
    return f"{name}: {text}" if name else f"{text[0].upper()}{text[1:]}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
