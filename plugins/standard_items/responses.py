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
from dataclasses import replace

from review import Overlay, Scenario

from .bench import FROM_AFAR, LEAVE, Bench, at_hood, named, sentence, shown, until_aired
from .power import without_power


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


Says = Callable[[Bench, str], tuple[str, str]]


def _flow_lost(bench: Bench, name: str) -> tuple[str, str]:
    seen = bench.meter(name, "falls to zero") + bench.bubbles("stop or slow down")
    sign = shown(name, seen or "nothing but its gauge or bottle shows it, ")
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
    sign = shown(name, f"{seen}the pressure climbs, ")
    if bench.is_inert(name):
        return sign, (
            f"Throttle {name} by hand, do not shut it off. If that fails: {bench.off()}; if the "
            f"pressure still climbs, shut {name} at its supply too."
        )
    return sign, sentence(bench.calm(" at the supply"))


def _all_at_once(bench: Bench, name: str) -> tuple[str, str]:
    sign = shown(name, f"it froths and gets hot, {bench.bubbles('run wild')}")
    return sign, "Sash down, step back, close nothing; let it run out into the open train."


def _regulator_failed(bench: Bench, name: str) -> tuple[str, str]:
    first = "Shut the cylinder valve if you reach it without passing the set-up"
    # With the failed one alone, its cylinder's valve is all there is to shut.
    shut = f", shut {bench.feeds}" if bench.feeds and len(bench.scenario.flows) > 1 else ""
    heat = ", heat off" if bench.scenario.heat else ""
    return (
        "The gauge after the regulator climbs, gas hisses, joints creep or fly off.",
        f"{first}{shut}{heat}. Keep clear of the glass; gas is out: {LEAVE}.",
    )


def _wrong_scale(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"{name}: nothing on the meter itself; a bubble meter shows another rate.",
        f"{sentence(bench.calm())} Set it anew on the scale for this gas before going on.",
    )


def _flow_not_stopped(bench: Bench, name: str) -> tuple[str, str]:
    seen = bench.meter(name, "does not fall to zero") + bench.bubbles("go on")
    sign = shown(name, seen or "gas or liquid goes on coming, ", " when it is shut.")
    if bench.is_inert(name):
        return sign, "Shut it at the supply; do not go on to the next step before that."
    return sign, f"{sentence(bench.calm(' at the supply'))} Do not go on to the next step."


def _heat_at_its_most(bench: Bench, name: str) -> tuple[str, str]:
    burns = bench.scenario.heat[name].energy == "flame"
    where = "its gas valve" if burns else "its mains plug"
    off = f"{name} off at {where}{bench.other_heat}"
    goes_on = ": a reaction may go on heating by itself" if bench.reacts else " until cold"
    return (
        f"{name}: {bench.reads('climbs past its setting')}hot parts glow or smell.",
        f"{sentence(bench.calm(heat=off))} Keep clear{goes_on}.",
    )


def _heat_lost(bench: Bench, name: str) -> tuple[str, str]:
    off = f"{name} off, so that it does not start by itself{bench.other_heat}"
    return (
        f"{name}: {bench.reads('falls')}it cools although it is on.",
        f"{sentence(bench.calm(heat=off))}{bench.drawn_back()}",
    )


def _flame_out(bench: Bench, name: str) -> tuple[str, str]:
    shut = f" Shut {bench.feeds}." if bench.feeds else ""
    return (
        f"{name}: no flame, gas hisses; do not wait for a smell.",
        f"Shut the burner's gas. No switch, no spark, no relighting before the room is aired.{shut}"
        f" Gas is out: {LEAVE}.",
    )


def _blocked(bench: Bench, name: str) -> tuple[str, str]:
    rises = " or liquid rises" if bench.dips else ""
    which = "every flow at its supply, inert gas too" if bench.inert else "every flow at its supply"
    heat = ", then heat off" if bench.scenario.heat else ""
    return (
        shown("", f"{bench.bubbles('stop')}the pressure climbs, a stopper creeps{rises}, "),
        f"Shut {which}{heat}. Keep clear of the glass; open no joint under pressure.",
    )


def _open_outward(bench: Bench, name: str) -> tuple[str, str]:
    seen = f"gas hisses, {bench.bubbles('fade')}{bench.sounds}"
    return (
        shown("", seen, "; do not wait for a smell."),
        f"Do not go to the leak. {sentence(bench.calm(' at the supply', FROM_AFAR))} "
        f"Ventilation stays on; {LEAVE}.",
    )


def _open_inward(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"Often nothing; a faint hiss{', or liquid that climbs back' if bench.dips else ''}.",
        f"{sentence(bench.calm())} Do not touch the joint, open nothing, "
        f"keep clear{bench.until_cold}.{bench.drawn_back()}",
    )


def _broken(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "A crack or splinters, gas hisses, liquid on the bench.",
        "Keep away from the glass, no water on it. "
        f"{sentence(bench.calm(' at the supply', FROM_AFAR))} Gas or liquid is out: {LEAVE}.",
    )


def _suction_lost(bench: Bench, name: str) -> tuple[str, str]:
    bubbles = bench.bubbles("stop").removesuffix(", ")
    changes = f"its sound changes{f', {bubbles}' if bubbles else ''}"
    sign = f"{name}: {changes}; water may climb towards the train."
    shut = "Shut the tap before the trap bottle."
    if bench.harms or bench.scenario.heat:
        vacuum = f"Break the vacuum with {bench.inert or 'inert gas'}, never air."
        return sign, f"{shut} {sentence(bench.calm())} {vacuum}"
    return sign, f"{shut} Vent the trap bottle; only then turn the pump off."


def _cooling_lost(bench: Bench, name: str) -> tuple[str, str]:
    sign = "No water runs from the condenser, it gets warm, vapour at the vent."
    if any(item.id == name and item.coolant_temperature is None for item in bench.scenario.train):
        sign = f"{name}: its bath has melted or boiled away, frost goes, vapour at the vent."
    return sign, f"{sentence(bench.calm())} At a smell or an alarm: {LEAVE}."


def _spilled(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Liquid on the bench or the floor.",
        f"{sentence(bench.calm())} Touch nothing, {LEAVE}.",
    )


def _spent(bench: Bench, name: str) -> tuple[str, str]:
    return (
        shown("", f"the indicator changes, {bench.bubbles('no longer shrink')}{bench.sounds}"),
        f"{sentence(bench.calm())} At the alarm: {LEAVE}.",
    )


def _no_reaction(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "No warming, no product.",
        f"{sentence(bench.calm())} Do not heat more to force it: "
        "what has gathered may react all at once.",
    )


def _reaction_complete(bench: Bench, name: str) -> tuple[str, str]:
    # What decomposes without a feed is stopped by nothing but cold.
    stops = "Shutting the feed stops it, heat off alone does not" if bench.feeds else (
        "It may go on by itself"
    )  # fmt: skip
    return (
        "The bed runs hotter than planned, perhaps on after the heat is off.",
        f"{sentence(bench.calm())} {stops}; keep clear{bench.until_cold}.",
    )


def _ventilation_lost(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"The fan is silent, {at_hood(bench)}a strip of tissue hangs still.",
        f"{sentence(bench.calm(' at the supply'))} {sentence(until_aired(bench))}",
    )


def _power_lost(bench: Bench, name: str) -> tuple[str, str]:
    lost = without_power(bench.scenario, name)
    fan = ("ventilation",) if lost.ventilation_stops else ()
    stops = named([*lost.closes, *lost.heat_off, *lost.pumps, *fan], "all that hangs on the power")
    goes_on = named([*lost.stays, *lost.heat_on], "all that does not hang on the power")
    most = named(list(lost.opens), "the controlled flows")
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
        sentence(off),
        "Open nothing, let no air in." if stopped and bench.scenario.heat else "",
        "If liquid climbs back, keep clear." if stopped and bench.dips and not bench.lifts else "",
        f"No ventilation: {until_aired(bench)}." if fan else "",
    )
    return " ".join(s for s in signs if s), " ".join(p for p in parts if p)


def _power_back(bench: Bench, name: str) -> tuple[str, str]:
    back = without_power(bench.scenario)
    heat = f"{named(list(back.starts), 'every heater')} off at the mains plug"
    off = bench.calm(" by hand", heat if back.starts else "heat off")
    starts = named([*back.starts, *back.flows_back], "every heater and feed")
    return (
        f"Lights come on again; {starts} starts by itself.",
        f"{sentence(off)} Begin again with the first step, when all is cold and the ventilation "
        "runs.",
    )


def _left_on(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Somebody comes in and finds it running.",
        f"{sentence(bench.calm())} At a smell or an alarm: {LEAVE}.",
    )


def _wrong_position(bench: Bench, name: str) -> tuple[str, str]:
    return (
        shown(name, f"its handle does not stand as the step says, {bench.bubbles('go elsewhere')}"),
        f"{sentence(bench.calm())} Do not turn it under pressure or while anything is hot.",
    )


def _begun_again(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Nothing shows it: whoever begins has to know what was run before.",
        f"{sentence(bench.calm())} Wait{bench.until_cold}, flush it, renew what absorbs.",
    )


def _exchanged(bench: Bench, name: str) -> tuple[str, str]:
    return (
        "Nothing shows it but the labels of the cylinders.",
        f"{sentence(bench.off(' at the cylinder'))} Flush with a gas whose label was read twice.",
    )


def _hoses_exchanged(bench: Bench, name: str) -> tuple[str, str]:
    off = ", then heat off" if bench.scenario.heat else ""
    return (
        "Nothing shows it but the hoses themselves, followed from end to end.",
        f"Shut every flow at its supply{off}. Follow each hose by hand and mark both its ends.",
    )


def _pushed_back(bench: Bench, name: str) -> tuple[str, str]:
    sign, response = _blocked(bench, name)
    return sign, f"{response} A supply that gas was pushed into is not used again."


def _wind(bench: Bench, name: str) -> tuple[str, str]:
    return (
        shown(name, f"{bench.bubbles('stop or go in bursts')}gusts at the window, "),
        f"{sentence(bench.calm())}{bench.drawn_back()}",
    )


def _not_lifted(bench: Bench, name: str) -> tuple[str, str]:
    return (
        f"{name}: the tube still stands in the liquid when the flame is to go off.",
        "Heat stays on; lift the tube out first. If liquid climbs towards hot glass, keep clear.",
    )


def _leaks_back(bench: Bench, name: str) -> tuple[str, str]:
    return (
        shown(name, "nothing shows it while gas flows, "),
        f"{sentence(bench.calm())}{bench.drawn_back()}",
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
    "all at once": _all_at_once,
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
    "dropped": _spilled,
    "absorbent spent": _spent,
    "no reaction": _no_reaction,
    "reaction complete": _reaction_complete,
    "ventilation lost": _ventilation_lost,
    "power lost": _power_lost,
    "power back": _power_back,
    "left on": _left_on,
    "begun again": _begun_again,
    "exchanged": _exchanged,
    "hoses exchanged": _hoses_exchanged,
    "pushed back": _pushed_back,
    "wind": _wind,
    "check valve leaks": _leaks_back,
    "wrong position": _wrong_position,
    "not lifted": _not_lifted,
    "skipped": _out_of_order,
    "swapped": _out_of_order,
}
