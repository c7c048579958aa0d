"""The bottle that a liquid came from, dropped beside the set-up with all that is left in it."""

from __future__ import annotations

from collections.abc import Iterator
from math import nan

from review import Overlay, Reference, Scenario

#: The largest glass bottle that is sold, m3; one whose amount nobody states is taken as that
#: (common practice, no source).
LARGEST = 2.5e-3
#: What of an amount is lost to rounding and to the neck of a bottle, m3.
DREGS = 1e-6
#: Least density of a liquid where none is stated, kg/m3 (pentane 626, from memory).
LIGHTEST = 600.0


def dropped(scenario: Scenario, reference: Reference) -> Iterator[Overlay]:
    """Each bottle with more in it than the train holds, dropped in the longest step.

    Where the vessel stands that it fills; in a tested hood it stays behind the sash. The amount of
    a reagent is what is brought to the bench, so what was put away before counts no more.
    """
    hood = scenario.ventilation.hood if scenario.ventilation else None
    tested = hood is not None and hood.tested == "yes"
    steps = [step.duration or 0.0 for step in scenario.procedure] or [0.0]
    longest = max(range(len(steps)), key=steps.__getitem__)
    name = scenario.procedure[longest].step if scenario.procedure else "run as stated"
    for reagent in scenario.reagents:
        rest = left_in(scenario, reference, reagent)
        filled = scenario.filled_from(reagent)
        behind = tested and filled and all(item.in_ == "hood" for item in filled)
        if rest <= DREGS or behind:
            continue
        yield Overlay(
            id=f"dropped:{reagent}:{name}",
            title=f"the bottle of {reagent} is dropped with {rest * 1e6:.0f} mL in it",
            case="upset",
            changes={f"reagents.{reagent}.dropped": rest},
            from_step=longest + 1,
            until_step=longest + 2,
        )


def left_in(scenario: Scenario, reference: Reference, reagent: str) -> float:
    """What is left in a bottle once the train is filled from it, m3; at most the largest bottle."""
    stated = scenario.reagents[reagent]
    if stated.state != "liquid":
        return 0.0
    used = [item.liquid_volume for item in scenario.train if item.liquid == reagent]
    amount = stated.amount
    if amount is None:
        return LARGEST
    dense = stated.density or LIGHTEST
    molar = max((reference.substance(text).molar_mass for text in stated.composition), default=nan)
    volume = {"volume": 1.0, "mass": 1 / dense, "molar": molar / dense}[amount.by] * amount.value
    rest = volume - sum(each or 0.0 for each in used)
    return LARGEST if not rest <= LARGEST else rest
