"""What stops and what goes on by itself when the power fails."""

from __future__ import annotations

from dataclasses import dataclass

from review import Scenario


@dataclass(frozen=True)
class Powerless:
    """Flows that close, open to their most or stay as they are; what else stops."""

    closes: tuple[str, ...]
    opens: tuple[str, ...]
    stays: tuple[str, ...]
    heat_off: tuple[str, ...]
    heat_on: tuple[str, ...]
    ventilation_stops: bool
    pumps: tuple[str, ...] = ()
    """Pumps that no longer suck."""
    starts: tuple[str, ...] = ()
    """Heat that starts by itself once the power is back."""
    stays_closed: tuple[str, ...] = ()
    """Flows that had closed and then stay so."""
    flows_back: tuple[str, ...] = ()
    """Flows that had closed and start by themselves once it is back."""
    ventilation_stays_off: bool = False


def open_questions(scenario: Scenario) -> tuple[str, ...]:
    """Controlled flows of which nobody says what they do: each may close or open."""
    return tuple(
        name
        for name, flow in scenario.flows.items()
        if flow.on_power_loss is None
        and flow.instrument is not None
        and flow.instrument.kind == "mass flow controller"
    )


def without_power(scenario: Scenario, stuck: str = "") -> Powerless:
    """What each thing does; `stuck` (closes or opens) is for those that nobody described."""
    either = open_questions(scenario)
    does = {
        name: flow.on_power_loss or (stuck if name in either and stuck else "stays")
        for name, flow in scenario.flows.items()
    }
    heat = {
        name: h.on_power_loss or ("stays" if h.energy == "flame" else "off")
        for name, h in scenario.heat.items()
    }
    ventilation = scenario.ventilation
    return Powerless(
        closes=tuple(name for name, what in does.items() if what == "closes"),
        opens=tuple(name for name, what in does.items() if what == "opens"),
        stays=tuple(name for name, what in does.items() if what == "stays"),
        heat_off=tuple(name for name, what in heat.items() if what == "off"),
        heat_on=tuple(name for name, what in heat.items() if what == "stays"),
        ventilation_stops=ventilation is not None and ventilation.on_power_loss != "stays",
        starts=tuple(
            name
            for name, h in scenario.heat.items()
            if h.energy != "flame" and h.on_power_return != "stays off"
        ),
        stays_closed=tuple(
            name
            for name, what in does.items()
            if what == "closes" and scenario.flows[name].on_power_return != "starts"
        ),
        flows_back=tuple(
            name
            for name, what in does.items()
            if what == "closes" and scenario.flows[name].on_power_return == "starts"
        ),
        ventilation_stays_off=ventilation is not None
        and ventilation.on_power_loss != "stays"
        and ventilation.on_power_return != "starts",
        pumps=tuple(
            item.id
            for item in scenario.train
            if item.suction is not None and item.suction.drive not in ("water", "steam")
        ),
    )
