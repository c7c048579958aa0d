"""What the file leaves out and a failure or a reaction would need: not known, never nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    Kind,
    Measure,
    Place,
    Quantity,
    Scenario,
    Setup,
    Substance,
    UnknownName,
)

KIND = Kind(
    id="readiness.declared",
    title="What must be stated to be judged",
    worse="higher",
    unit="1",
    display="",
    method="readiness.declared",
    source="what is left out is the worst case, which nobody can compute",
    validity="0 where it is stated or plays no part, 1 where a generator does not say by which "
    "equation it makes its gas; missing where something else is left out",
)

#: Heaters whose gas goes on when their flame is out.
GAS_FIRED = ("burner", "gas torch", "camping stove", "gas furnace")

#: Mole fraction below which a gas is a trace that no catalyst makes anything of.
TRACE = 1e-5

#: From here on a bed or a reactor tube is hot enough to make something, K (a judgement, no source).
HOT_BED = 373.15
#: From here on steam and carbon dioxide make something of what chars, K: wood that is dried and
#: steamed gives off little but water up to 200 degC (its first stage of pyrolysis, from memory).
CHARS_FROM, CHARS = 473.15, frozenset({"combustible solid"})
#: An oxidiser below this share is what a purge leaves (a judgement, no source).
IN_AIR = 0.01
#: Kinds of material that gases pass over unchanged.
INERT_BEDS = ("glass", "ceramic")
#: Classes of solids that take the oxygen of hot carbon dioxide and steam.
REDUCES = frozenset(
    {"metal powder", "active metal", "alkali metal", "carbonyl-forming metal", "combustible solid",
     "noble metal catalyst", "strong reducer"}
)  # fmt: skip
#: Classes of solids that hot air turns into a gas that burns or poisons.
ROASTS = frozenset(
    {"sulfide", "thiosulfate", "cyanide", "phosphide", "azide", "halide salt",
     "combustible solid", "oil or grease", "elastomer", "fluoropolymer", "halogenated organic",
     "metal hydride", "ammonium salt"}
)  # fmt: skip


def _left_out(scenario: Scenario, burns: bool) -> Iterator[tuple[str, str]]:
    """Where something is left out, and what."""
    if not scenario.procedure and (scenario.heat or burns):
        yield "procedure", "the steps are not stated: in which order gas and heat come and go"
    for name, section in _never_on(scenario):
        yield name, f"no step turns it on: when this {section} comes is not stated"
    for name, heat in scenario.heat.items():
        if heat.kind in GAS_FIRED and (heat.fuel is None or heat.fuel_rate is None):
            lacks = "fuel_rate, such as 2 L/min," if heat.fuel else "fuel and fuel_rate"
            yield name, f"{lacks} not stated: gas that goes on when the flame is out"
        if heat.kind == "charcoal fire" and scenario.item(heat.heats).in_ != "outdoors":
            yield name, "how much carbon monoxide it gives off cannot be stated: light it outdoors"
    supplied = [(name, flow.reagent) for name, flow in scenario.flows.items()]
    supplied += [(name, heat.fuel) for name, heat in scenario.heat.items() if heat.fuel]
    for name, gas in supplied:
        reagent = scenario.reagents.get(gas)  # none for gas of the mains
        if reagent is not None and reagent.state == "gas" and reagent.held is None:
            yield name, f"how {gas} is held is not stated: what its supply can give"


def _never_on(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """Flows and heat sources that a procedure never turns on."""
    if not scenario.procedure:
        return
    for name in scenario.flows:
        if all(step.flows.get(name, "off") == "off" for step in scenario.procedure):
            yield name, "flow"
    for name in scenario.heat:
        if all(step.heat.get(name, "off") == "off" for step in scenario.procedure):
            yield name, "heat"


def _nowhere(setup: Setup) -> Iterator[tuple[str, str]]:
    """Liquids and solids that give off vapour and that no item holds, no flow brings."""
    scenario = setup.scenario
    used = scenario.in_use
    for name, reagent in scenario.reagents.items():
        # What stays in its bottle gives off nothing.
        if reagent.state == "gas" or reagent.held or used & {name, *reagent.composition}:
            continue
        known = map(setup.reference.substance, reagent.composition)
        vapours = [s.name for s in known if s.curve("vapour_pressure").state == "known"]
        if vapours and not all(s == "water" for s in vapours):
            yield name, f"no item holds it, and {vapours[0]} gives off vapour: liquid: {name}"


def _unmade(setup: Setup) -> Iterator[tuple[str, str]]:
    """Gases that a generator makes by its equation and that its composition does not have.

    Two that share an equation, as the electrodes of a cell, make its gases together, and oxygen may
    leave by itself: it neither burns nor poisons.
    """
    declared = setup.reactions
    for name, reagent in setup.scenario.reagents.items():
        if reagent.held is None or reagent.held.equation is None:
            continue
        alike = [
            other
            for other in setup.scenario.reagents.values()
            if other.held is not None and other.held.equation == reagent.held.equation
        ]
        has = {setup.reference.substance(text).name for o in alike for text in o.composition}
        into = {flow.into for flow in setup.scenario.flows.values() if flow.reagent == name}
        for place in (place for place in setup.places if place.id in into):
            made = [each for each in place.equations if each not in declared.get(place.id, ())]
            products = [term.substance for terms in made for term in terms if term.coefficient > 0]
            for substance in products:
                if substance is None or substance.phase_at_20C != "gas":
                    continue
                if substance.name not in has | {"oxygen"}:
                    said = (
                        f"its equation makes {substance.name}, which its composition lacks: let it "
                        "be a reagent of the same equation with a flow into where it forms"
                    )
                    yield name, said


def _undeclared(
    setup: Setup, place: Place, beds: Mapping[str, frozenset[str]]
) -> tuple[str, NDArray[np.bool_]] | None:
    """Why what forms here must be declared, and 1 in the trials in which it must."""
    if place.model.reactions or place.model.reactions.stated_none:
        return None
    inlet, moving = place.composition("inlet"), place.moving > 0

    def there(which: Callable[[Substance], bool], least: float = TRACE) -> NDArray[np.bool_]:
        rows = [i for i, s in enumerate(setup.species) if which(s)]
        found: NDArray[np.bool_] = ~(inlet[rows].sum(axis=0) <= least) & moving
        return found

    warm = _over_catalyst(setup, place)
    if warm is not None:
        meets = warm & there(lambda s: s.combustible is not False) & there(_oxidises)
        if meets.any():
            return "fuel and oxidiser over a catalyst", meets
    # What air does that leaks in is judged by itself; here is what the run is meant to do.
    planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
    hot = ~(place.hottest.value < HOT_BED) & np.tile(planned, setup.shape[0])
    reduces = any(classes & REDUCES for classes in beds.values())
    strongly = any(classes & REDUCES - CHARS for classes in beds.values())
    charring = hot & ~(place.hottest.value < CHARS_FROM)
    # What stands in a generator's equation has been declared over what the equation uses.
    made = set[str]()
    if beds and all(_used(setup, place, name) for name in beds):
        given = (t for terms in place.made for t in terms)
        made = {term.substance.name for term in given if term.substance is not None}
    reactive = there(lambda s: s.name not in made and not _quiet(s, strongly))
    steamed = there(lambda s: s.name not in made and not _quiet(s, reduces)) & charring
    air = there(_oxidises, IN_AIR)
    meets = hot & (reactive | steamed)
    meets = meets if beds else meets & air & (place.kind.id == "reactor")
    if meets.any():
        gases = " and ".join(
            s.name for s, x in zip(setup.species, inlet, strict=True)
            if (~(x <= TRACE) & meets).any() and (not _quiet(s, reduces) or s.oxidiser)
        )  # fmt: skip
        return f"hot {gases}" + (f" over {' and '.join(beds)}" if beds else ""), meets
    roasts = [name for name, classes in beds.items() if classes & ROASTS]
    meets = hot & air
    if roasts and meets.any():
        return f"{' and '.join(roasts)} in hot air", meets
    return None


def _used(setup: Setup, place: Place, bed: str) -> bool:
    """Whether what a generator makes here is made of this solid, by its equation."""
    named = {text for terms in place.made for t in terms for text in (t.text, t.formula)}
    with suppress(UnknownName):
        return bool({bed, setup.reference.substance(bed).formula} & named)
    return bed in named


def _oxidises(substance: Substance) -> bool:
    return bool(substance.oxidiser)


def _quiet(substance: Substance, reduces: bool) -> bool:
    """Whether a gas does nothing harmful to an oxide, a salt or a metal: it is inert, or what air
    brings. Carbon dioxide and steam are not over what takes their oxygen."""
    if substance.name in ("carbon dioxide", "water"):
        return not reduces
    return substance.inert is True or substance.name == "oxygen"


def _beds(setup: Setup, place: Place) -> Iterator[tuple[str, frozenset[str]]]:
    """What lies in the gas here but for glass and ceramics, with its classes.

    A packing that nobody names may be of what makes something.
    """
    names = [name for name, part in place.parts if part == "packing"]
    if place.model.packing is not None and not names:
        yield "a packing that nobody names", frozenset()
    for name in dict.fromkeys((*names, *place.solids)):
        with suppress(UnknownName):
            one = setup.reference.substance(name)
            yield one.name, frozenset(one.classes or ())
            continue
        with suppress(UnknownName):
            material = setup.reference.material(name)
            if material.kind not in INERT_BEDS:
                yield material.name, frozenset(material.classes or ())
            continue
        yield name, frozenset()


def _over_catalyst(setup: Setup, place: Place) -> NDArray[np.bool_] | None:
    warm = None
    for name, catalyst in setup.scenario.catalysts.items():
        if catalyst.in_ != place.id or catalyst.light_off == "none":
            continue
        from_ = setup.number(f"catalysts.{name}.light_off").value
        each = ~(place.hottest.value < from_)
        warm = each if warm is None else warm | each
    return warm


def _compute(setup: Setup) -> Iterable[Measure]:
    liquids = [item.liquid for item in setup.scenario.train if item.liquid]
    burns = any(s.combustible is not False for s in setup.species) and bool(
        setup.scenario.flows or liquids
    )
    planned = np.array([overlay.case == "plan" for overlay in setup.runs.overlays])
    yield setup.measure(KIND, Quantity.of(0.0, name=KIND.title, source="the file"), "the file")
    for at, why in (*_left_out(setup.scenario, burns), *_nowhere(setup), *_unmade(setup)):
        # Said once, of the plan; every failure lacks it too.
        lacks = np.tile(planned, setup.shape[0])
        stated = Quantity.of(np.where(lacks, np.nan, 0.0), name=KIND.title, source=why)
        yield setup.measure(KIND, stated, at)
    for name, reagent in setup.scenario.reagents.items():
        if reagent.held and reagent.held.as_ == "generator" and reagent.held.equation is None:
            why = "what makes it is not stated (equation): what else it makes, and what meets"
            yield setup.measure(KIND, Quantity.of(1.0, name=KIND.title, source=why), name)
    for place in setup.places:
        # Told where a bed may lie, whatever a run does, so that every run has the same places.
        beds = dict(_beds(setup, place))
        catalysed = any(c.in_ == place.id for c in setup.scenario.catalysts.values())
        if not (beds or catalysed or place.kind.id == "reactor"):
            continue
        nothing = "nothing", np.zeros(setup.trials, dtype=bool)
        what, where = _undeclared(setup, place, beds) or nothing
        why = f"what {what} forms is not declared: write its equation under reactions"
        stated = Quantity.of(np.where(where, np.nan, 0.0), name=KIND.title, source=why)
        yield setup.measure(KIND, stated, place.id)


UNSAID = Computation(kinds=(KIND,), compute=_compute)
