"""Single failures of the train's own equipment, generated from what the scenario contains."""

from __future__ import annotations

from collections.abc import Iterator

from review import Overlay, Scenario


def upsets(scenario: Scenario) -> list[Overlay]:
    """Each flow lost, each outlet blocked, ventilation lost, heat at its most.

    Each in every step where it can happen, lasting through all later steps. A flow is lost in two
    ways: it never comes in that step, or it stops after the step has settled.
    """
    return [*_flows_lost(scenario), *_outlets_blocked(scenario), *_others(scenario)]


def _steps(scenario: Scenario) -> list[str]:
    return [step.step for step in scenario.procedure] or ["run as stated"]


def _on(scenario: Scenario, section: str, name: str) -> list[bool]:
    """In which steps a flow or heat source is on; settings last until changed."""
    if not scenario.procedure:
        return [True]
    out, now = [], False
    for step in scenario.procedure:
        said = getattr(step, section).get(name)
        if said is not None:
            now = said != "off"
        out.append(now)
    return out


def _flows_lost(scenario: Scenario) -> Iterator[Overlay]:
    for flow in scenario.flows:
        changes = {f"flows.{flow}.delivered": 0.0}
        for number, (step, on) in enumerate(
            zip(_steps(scenario), _on(scenario, "flows", flow), strict=True), 1
        ):
            if not on:
                continue
            yield Overlay(
                id=f"flow lost:{flow}:{step}",
                title=f"{flow} does not come, unnoticed, from step {step} on",
                case="upset",
                changes=changes,
                from_step=number,
            )
            yield Overlay(
                id=f"flow lost:{flow}:{step}:midway",
                title=f"{flow} stops in mid-step, unnoticed, from step {step} on",
                case="upset",
                changes=changes,
                from_step=number,
                late=True,
            )


def _outlets_blocked(scenario: Scenario) -> Iterator[Overlay]:
    for item in scenario.train:
        if item.to is None:
            continue
        for number, step in enumerate(_steps(scenario), 1):
            yield Overlay(
                id=f"blocked:{item.id}:{step}",
                title=f"{item.id} is blocked from step {step} on",
                case="upset",
                changes={f"train.{item.id}.blocked": 1.0},
                from_step=number,
            )


def _others(scenario: Scenario) -> Iterator[Overlay]:
    if scenario.ventilation is not None:
        for number, step in enumerate(_steps(scenario), 1):
            yield Overlay(
                id=f"ventilation lost:{step}",
                title=f"ventilation is lost from step {step} on",
                case="upset",
                changes={"ventilation.working": 0.0},
                from_step=number,
            )
    for heat in scenario.heat:
        for number, (step, on) in enumerate(
            zip(_steps(scenario), _on(scenario, "heat", heat), strict=True), 1
        ):
            if on:
                yield Overlay(
                    id=f"heat at its most:{heat}:{step}",
                    title=f"{heat} runs to its hottest from step {step} on",
                    case="upset",
                    changes={f"heat.{heat}.at_hottest": 1.0},
                    from_step=number,
                )
