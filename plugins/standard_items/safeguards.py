"""Active safeguards: each failure they may counter, played once more with them.

A safeguard that `reveals` a failure is looked at before a step: from that step on the run is no
longer judged, because somebody has noticed. One that `closes` flows shuts them for the rest of the
run. Neither earns credit by being named: the judge asks the measure named in `adequacy`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from review import Overlay, Safeguard, Scenario

from ..shared.names import HEARD_KIND

#: What the readiness check measures: time available over time needed.
REVEAL_KIND = "readiness.reveal_margin"
CLOSING_KIND = "readiness.closing_margin"
#: Criteria on what gets hot in a minute or more, and on what it then gives off.
SLOW_HARM = ("heat.", "reactive.")
#: What a look at a flow does not show: which gas comes, and whose scale it is read on.
UNSEEN = ("exchanged", "hoses exchanged", "wrong scale")
#: What the exposure check measures: time until people may be unable to leave over time needed.
LEAVING_KIND = "exposure.leaving_margin"


def heard(scenario: Scenario, found: Sequence[Overlay]) -> Iterator[Overlay]:
    """Regulators that fail again, with somebody there who hears it and shuts the cylinder.

    A hundred times the gas hisses and throws the float up: nobody beside it goes on. What takes a
    minute or more is prevented, hoses and seals that get hot behind a furnace; what bursts at once
    or is breathed is not.
    """
    for upset in found:
        kind, *what = upset.id.split(":")
        if kind == "regulator failed":
            behind = [path for path in upset.changes if path.endswith(".regulator_failed")]
            shut = {path.replace(".regulator_failed", ".delivered"): 0.0 for path in behind}
            yield replace(
                upset,
                id=f"{upset.id} | somebody hears it",
                title="somebody beside it hears the regulator and shuts the cylinder",
                changes={**upset.changes, **shut},
                counters=upset.id,
                adequacy=(HEARD_KIND, what[0]),
                in_time_for=SLOW_HARM,
            )


def countered(scenario: Scenario, found: Sequence[Overlay]) -> Iterator[Overlay]:
    """The failures again, each with one safeguard at work."""
    ways = [s for s in scenario.safeguards if s.kind == "free way out"]
    for number, safeguard in enumerate(scenario.safeguards):
        name = f"{safeguard.kind} {number + 1}"
        # Without all of its figures nobody knows when people have left.
        stated = (safeguard.response_time, safeguard.takes, *(way.takes for way in ways))
        warns = safeguard.kind == "detector" and ways and None not in stated
        for upset in found:
            if warns and upset.from_step is not None:
                yield replace(
                    upset,
                    id=f"{upset.id} | {name} warns",
                    title=f"{safeguard.kind} warns and everybody leaves",
                    changes={**upset.changes, f"safeguards.{number}.warns": 1.0},
                    counters=upset.id,
                    adequacy=(LEAVING_KIND, name),
                )
            if safeguard.reveals and _concerns(upset, safeguard):
                until = _looked_at(scenario, safeguard, upset)
                if until is not None:
                    yield replace(
                        upset,
                        id=f"{upset.id} | {name} looked at",
                        title=f"{safeguard.kind} looked at before {_step(scenario, until)}",
                        until_step=until,
                        counters=upset.id,
                        adequacy=(REVEAL_KIND, name),
                    )
            if safeguard.closes:
                closed = {f"flows.{flow}.delivered": 0.0 for flow in safeguard.closes}
                listed = ", ".join(safeguard.closes)
                yield replace(
                    upset,
                    id=f"{upset.id} | {name} closes",
                    title=f"{safeguard.kind} closes {listed}",
                    changes={**upset.changes, **closed},
                    counters=upset.id,
                    adequacy=(CLOSING_KIND, name),
                )


def _concerns(upset: Overlay, safeguard: Safeguard) -> bool:
    """Whether the failure is one of something that the safeguard shows."""
    what = upset.id.split(":")
    if what[0] == "ventilation lost":
        return "ventilation" in safeguard.reveals
    if what[0] in ("skipped", "swapped", *UNSEEN):  # what is named first is a step
        return False
    return len(what) > 1 and what[1] in safeguard.reveals


def _looked_at(scenario: Scenario, safeguard: Safeguard, upset: Overlay) -> int | None:
    """The first step after the failure before which the safeguard is looked at, if any."""
    names = [step.step for step in scenario.procedure]
    start = upset.from_step or 0
    for number, name in enumerate(names, 1):
        if number > start and safeguard.before in (None, name):
            return number
    return None


def _step(scenario: Scenario, number: int) -> str:
    return f"step {scenario.procedure[number - 1].step}"
