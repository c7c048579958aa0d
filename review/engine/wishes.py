"""What the user wants of a run, held against its plan: wishes, no hazards, and no verdict.

Contact time comes from the walk; the setting of a heater and the ratio of two flows stand in the
file. A value that is not known is no wish met.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from review.interface.plugin import Section
from review.interface.result import STATED_PLAN, Review
from review.scenario import Scenario
from review.scenario.units import Stated

CONTACT = "train.contact_time"


def unmet(scenario: Scenario, review: Review) -> tuple[str, ...]:
    """What is wanted and not had in the plan, a sentence each; empty where all is met.

    >>> from review import loads, Engine
    >>> text = "title: t\\ntrain: [{id: outlet, kind: outlet, to: room}]"
    >>> unmet(loads(text), Engine().review(loads(text)))
    ()
    """
    return tuple(said for said, good in judged(scenario, review) if not good)


def sections(scenario: Scenario, review: Review) -> tuple[Section, ...]:
    """What the user wants and has, for the report; in the letter only what is not met."""
    told = list(judged(scenario, review))
    if not told:
        return ()
    missed = tuple(said for said, good in told if not good)
    if missed:
        return (Section("Wanted and not met (no matter of safety)", missed, letter=True),)
    return (Section("Wanted and met", tuple(said for said, _ in told)),)


def judged(scenario: Scenario, review: Review) -> Iterator[tuple[str, bool]]:
    """Each wish as a sentence with the value it has, and whether it is met."""
    intent = scenario.intent
    if intent is None:
        return
    step = intent.step or usual(scenario)
    now = _settings(scenario, step)
    if (window := intent.contact_time) is not None:
        for item in (window.at,) if window.at else _reacting(scenario):
            value = _contact(review, item, step)
            yield _said(f'contact time in "{item}"', value, window.least, window.most, "s")
    if (heat := intent.temperature) is not None:
        for name in (heat.of,) if heat.of else scenario.heat:
            kelvin = now.get(("heat", name), float("nan"))
            low, high = (None if k is None else k - 273.15 for k in (heat.least, heat.most))
            yield _said(f'setting of "{name}"', kelvin - 273.15, low, high, "degC")
    if (ratio := intent.ratio) is not None:
        one, other = (now.get(("flows", name), float("nan")) for name in (ratio.of, ratio.to))
        value = one / other if other else float("nan")
        yield _said(f'"{ratio.of}" over "{ratio.to}"', value, ratio.least, ratio.most, "")


def usual(scenario: Scenario) -> str:
    """The longest step with a flow and, where there is any, a heater on; else the stated plan."""
    best, longest = STATED_PLAN, 0.0
    for step in scenario.procedure:
        on = {section for section, _ in _settings(scenario, step.step)}
        if on >= ({"flows", "heat"} if scenario.heat else {"flows"}) and step.duration > longest:
            best, longest = step.step, step.duration
    return best


def _settings(scenario: Scenario, step: str) -> dict[tuple[str, str], float]:
    """What is on in a step, SI: flows as written, heaters by their setting."""
    stated = {("flows", name): flow.rate.value for name, flow in scenario.flows.items()
              if isinstance(flow.rate, Stated)}  # fmt: skip
    stated |= {("heat", name): h.set_temperature for name, h in scenario.heat.items()
               if h.set_temperature is not None}  # fmt: skip
    if step == STATED_PLAN:
        return stated
    now: dict[tuple[str, str], float] = {}
    for each in scenario.procedure:
        for section in ("flows", "heat"):
            for name, said in getattr(each, section).items():
                now.pop((section, name), None)
                if said == "on":
                    now[section, name] = stated.get((section, name), float("nan"))
                elif said != "off":
                    now[section, name] = said.value if isinstance(said, Stated) else said
        if each.step == step:
            break
    return now


def _reacting(scenario: Scenario) -> tuple[str, ...]:
    holds = {catalyst.in_ for catalyst in scenario.catalysts.values()}
    return tuple(i.id for i in scenario.train if i.reactions or i.id in holds)


def _contact(review: Review, item: str, step: str) -> float:
    steps = review.trials.steps
    cell = 0 if step == STATED_PLAN else 1 + steps.index(step)
    found = [m for m in review.measures if (m.kind, m.at) == (CONTACT, item)]
    return float(found[0].value[cell, 0]) if found else float("nan")


def _said(
    what: str, value: float, least: float | None, most: float | None, unit: str
) -> tuple[str, bool]:
    low = -np.inf if least is None else least * (1 - 1e-9) if unit != "degC" else least - 1e-6
    high = np.inf if most is None else most * (1 + 1e-9) if unit != "degC" else most + 1e-6
    wanted = " and ".join(
        f"{side} {limit:.4g}{' ' * bool(unit)}{unit}"
        for side, limit in (("at least", least), ("at most", most))
        if limit is not None
    )
    has = f"{value:.3g}{' ' * bool(unit)}{unit}" if value == value else "not known"
    return f"{what} is {has}, wanted {wanted}", bool(low <= value <= high)
