"""What a file says keeps a generator's charge apart, against the rest of what it says."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import numpy as np

from review import FloatArray, Place, Setup

from ..shared.stores import bottled

#: The longest that it takes with the tap wide open, s: of a dropping funnel (250 mL run out within
#: minutes) and of an apparatus that closes itself by its own pressure, whose acid stays on the
#: solid until it is spent (judgements, no source); volume of a mole of gas, m3; density where none
#: is stated, kg/m3, at the upper end.
EMPTY = {"dropping funnel": 1800.0, "self-closing": 3600.0}
MOLE, HEAVY = 0.0251, 1500.0
TAP = (
    "its tap wide open lets all of it react within {minutes:.0f} min: write an at_most of so much "
    "or more, or take less"
)
UNHEATED = "limited by heat, and nothing heats it: say what keeps its charge apart"


def doubted(setup: Setup, place: Place, name: str, once: FloatArray) -> str:
    """Why what is said to keep a charge apart does not, as the file has it."""
    flow = setup.scenario.flows[name]
    held = setup.scenario.reagents[flow.reagent].held
    word = held.limited_by if held is not None else None
    if word == "heat" and all(h.heats != flow.into for h in setup.scenario.heat.values()):
        return UNHEATED
    if word in EMPTY and flow.at_most is not None:
        made = np.where(np.isnan(once), _bound(setup, place), once)
        shares = setup.scenario.reagents[flow.reagent].composition
        heavy = max(setup.reference.substance(text).molar_mass for text in shares)
        mole = {"volume": MOLE, "molar": 1.0, "mass": heavy}[flow.at_most.by]
        most = setup.number(f"flows.{name}.at_most").value / mole * EMPTY[word]
        if (~(most >= made)).any():
            return TAP.format(minutes=EMPTY[word] / 60)
    return ""


def _bound(setup: Setup, place: Place) -> float:
    """Gas that a generator's charge makes by what is known of it, mol; infinite if nothing is."""
    found = []
    for terms in place.made:
        gives = max((float(t.coefficient) for t in terms if t.coefficient > 0), default=1.0)
        for name, nu in named(setup, terms).items():
            mass = 0.0
            for bottle, reagent in setup.scenario.reagents.items():
                shares = setup.reference.by_mass(reagent.composition, reagent.basis)
                if reagent.state != "gas" and shares.get(name, 0.0) > 0:
                    holds = bottled(setup, bottle, reagent.density or HEAVY)
                    mass += shares[name] * float(np.nan_to_num(holds, nan=np.inf).max())
            with suppress(LookupError):
                molar = setup.reference.substance(name).molar_mass
                found.append((mass or np.inf) / molar / -nu * gives)
    return float(np.min(found)) if found else np.inf


def named(setup: Setup, terms: Sequence[Any]) -> dict[str, float]:
    """Coefficients of what an equation takes, dissolved solids too, by the names of the data."""
    out: dict[str, float] = {}
    for term in (t for t in terms if t.coefficient < 0):
        name = term.formula if term.substance is None else term.substance.name
        with suppress(LookupError):
            name = setup.reference.substance(term.text).name
        out[name] = out.get(name, 0.0) + float(term.coefficient)
    return out
