"""What a file leaves open in two ways, both of them usual: the other ways, played as plans.

The plan itself takes one side. Failures are played on that side alone: the other one differs by no
more than 7 % of a flow's amount, or is a failure of its own (a controller on the wrong scale).
"""

from __future__ import annotations

from collections.abc import Iterator

from review.interface.plugin import Overlay
from review.scenario import Scenario
from review.scenario.units import ATMOSPHERE
from review.scenario.usual import ICE
from review.walk.feeds import thermal_factors
from review.walk.resolve import Resolved
from review.walk.runs import PLAN

#: Temperature (K) and pressure (Pa) of the two conditions that trade knows.
_NORMAL, _STANDARD = (ICE, ATMOSPHERE), (293.15, ATMOSPHERE)
#: Amounts in a volume that differ by less are the same.
_SAME = 1e-3
Condition = tuple[float, float]


def planned(resolved: Resolved) -> tuple[Overlay, ...]:
    """The plan, and as it can be read otherwise."""
    return (PLAN, *_readings(resolved))


def _readings(resolved: Resolved) -> list[Overlay]:
    """Plans with all such flows at the one condition, at the other, and each at the one that it is
    not taken at; and each of these with the controllers that do not say for which gas they are made
    for nitrogen, or for one of what they let through."""
    scenario, base = resolved.scenario, resolved.base
    room = base["ambient.temperature"], base["ambient.pressure"]
    known = sorted((_NORMAL, _STANDARD, room), key=lambda c: c[0] / c[1])
    dense, thin = known[0], known[-1]
    taken = {name: _taken(scenario, name, room) for name in scenario.unreferred}
    other = {name: dense if _alike(at, thin) else thin for name, at in taken.items()}
    ways = {
        "all flows at the colder condition": dict.fromkeys(taken, dense),
        "all flows at the warmer condition": dict.fromkeys(taken, thin),
        "each flow at the other condition": other,
    }
    flows: dict[str, dict[str, float]] = {"": {}}
    for title, way in ways.items():
        changes = {
            f"flows.{name}.reference.{what}": value
            for name, at in way.items() if not _alike(at, taken[name])
            for what, value in zip(("temperature", "pressure"), at, strict=True)
        }  # fmt: skip
        if changes and changes not in flows.values():
            flows[title] = changes
    factors = {name: thermal_factors(resolved, name) for name in _uncalibrated(scenario)}
    meters: dict[str, dict[str, float]] = {"": {}}
    for title, nth in (("let through the least", 0), ("let through the most", -1)):
        made = {
            f"flows.{name}.true_over_read": each[nth]
            for name, each in factors.items() if not abs(each[nth] - 1) <= _SAME
        }  # fmt: skip
        if made:
            meters[f"controllers made for the gas with which they {title}"] = made
    return [
        Overlay(f"read:{said}", f"read with {said}", "plan", first | second)
        for one, first in flows.items()
        for two, second in meters.items()
        if (said := " and ".join(filter(None, (one, two))))
    ]


def _uncalibrated(scenario: Scenario) -> Iterator[str]:
    for name, flow in scenario.flows.items():
        meter = flow.instrument
        if meter is None or meter.calibration_gas is not None or flow.rate.by != "volume":
            continue
        gas = scenario.reagents[flow.reagent].state == "gas"
        if gas and meter.kind == "mass flow controller":
            yield name


def _taken(scenario: Scenario, name: str, room: Condition) -> Condition:
    stated = scenario.flows[name].reference
    if stated is None or stated.temperature is None or stated.pressure is None:
        return room
    return stated.temperature, stated.pressure


def _alike(one: Condition, other: Condition) -> bool:
    return abs(one[0] / one[1] / (other[0] / other[1]) - 1) < _SAME
