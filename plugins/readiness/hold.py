"""Whether anything shows what a hold point waits for, and whether anybody is there."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from review import Computation, Input, Kind, Measure, Method, Quantity, Scenario, Setup

from ..shared.holds import Hold, holds
from ..shared.inert import followers
from ..shared.lifts import lifts
from ..shared.names import HEARD_KIND, SHOWN_KIND

SHOWN = Method(
    id=SHOWN_KIND,
    title="Whether an instrument or bubbler shows the flow that a step waits for",
    result="shown (1)",
    unit="1",
    formula="n",
    inputs=(Input("n", "n", "1", "1 where it has an instrument or bubbles through a liquid"),),
    function=lambda n: n,
    source="common practice, no source: a flow is proven where it can be seen",
    validity="flows that never came, blocked ways, steps left out; leaks before a bubbler",
)
KIND = Kind.of(SHOWN, "lower")
HEARD = Method(
    id=HEARD_KIND,
    title="Whether somebody is there who hears a regulator fail",
    result="heard (1)",
    unit="1",
    formula="n",
    inputs=(Input("n", "n", "1", "1 where somebody is there all the time, or may be"),),
    function=lambda n: n,
    source="common practice, no source: gas at a cylinder's pressure hisses",
    validity="what takes a minute or more; not what bursts, burns or is breathed at once",
)
THERE_KIND = Kind.of(HEARD, "lower")


#: Safeguards that are people.
THERE = ("attended", "second person")
#: Longest procedure, s, beside which one person can stay to its end: that they do is a condition
#: of every run with gas, to be signed (a long working day; common practice, no source).
LONGEST_WATCH = 10 * 3600.0


def unseen(scenario: Scenario, hold: Hold) -> str:
    """Why nobody can see the flow of a hold point; '' where somebody can."""
    flow = scenario.flows[hold.flow]
    if flow.instrument is not None and flow.instrument.kind != "none":
        return ""
    after = followers(scenario)(flow.into)
    if any(item.id in after and item.dip_depth for item in scenario.train):
        return ""
    return f"no instrument and no bubbler shows {hold.flow}"


def attended(scenario: Scenario) -> bool:
    """Whether somebody is said to be there all the time."""
    there = any(safeguard.kind in THERE for safeguard in scenario.safeguards)
    return there or (scenario.operators or 0) > 1


def _compute(setup: Setup) -> Iterable[Measure]:
    for hold in holds(setup.scenario):
        why = unseen(setup.scenario, hold)
        shown = Quantity.of(
            np.full(setup.trials, np.nan if why else 1.0), name="flow shown", unit="1",
            source=why or "the flow's instrument, or a liquid it bubbles through",
        )  # fmt: skip
        yield setup.measure(KIND, SHOWN(n=shown), hold.name)
    for lift in lifts(setup.scenario):
        seen = setup.quantity(1.0, "seen", "1", "a tube stands in a liquid or out of it")
        yield setup.measure(KIND, SHOWN(n=seen), lift.name)
    steps = setup.scenario.procedure
    short = bool(steps) and sum(step.duration or np.inf for step in steps) <= LONGEST_WATCH
    there = attended(setup.scenario) or short
    for name in setup.scenario.flows:
        heard = Quantity.of(
            np.full(setup.trials, 1.0 if there else np.nan), name="somebody there", unit="1",
            source="operators, safeguards or steps" if there else "nobody is said to be",
        )  # fmt: skip
        yield setup.measure(THERE_KIND, HEARD(n=heard), name)


HOLDS = Computation(kinds=(KIND, THERE_KIND), compute=_compute)
