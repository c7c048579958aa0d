"""Single failures of the train's own equipment, generated from what the scenario contains.

They follow the guide words of IEC 61882 on each flow, heat source, reaction, absorbent, item,
ventilation and step: no, more, less, reverse, other than, part of. Each begins in every step where
it can happen and lasts through all later ones. Several at once only where one cause ties them: the
power.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf

from review import Overlay, Reference, Scenario, played

from ..shared.holds import held
from ..shared.lifts import forgotten, lifted_in_time, with_gas
from ..shared.nearby import LEFT_ON
from .bottles import dropped
from .joined import hoses_exchanged, pushed_back, windy
from .power import open_questions, without_power
from .responses import described
from .safeguards import countered, heard
from .valves import exchanged, leaking_back, left_open, poured, wrong_positions

#: The number that begins the procedure again as a step left the train.
BEGUN_AGAIN = "procedure.begun_again_after"
#: Kinds of material that break.
BRITTLE = ("glass", "ceramic")


@dataclass(frozen=True)
class Step:
    """One step that is played, with what is on in it."""

    number: int
    name: str
    flows: frozenset[str]
    heat: frozenset[str]
    pumps: frozenset[str] = frozenset()


def upsets(scenario: Scenario, reference: Reference) -> list[Overlay]:
    """Every single failure, then each again with every active safeguard that may counter it."""
    steps = _steps(scenario)
    on = [(s.number, s.name, s.flows) for s in steps]
    found = [
        *_flows(scenario, steps),
        *poured(on, scenario),
        *dropped(scenario, reference),
        *_heat(scenario, steps),
        *_items(scenario, reference, steps),
        *_pumps(scenario, steps),
        *wrong_positions(scenario),
        *left_open(scenario),
        *leaking_back(scenario),
        *exchanged(scenario, reference),
        *hoses_exchanged(scenario, reference),
        *pushed_back(scenario, on),
        *windy(scenario),
        *_ventilation(scenario, steps),
        *_power(scenario, steps),
        *_power_back(scenario, steps),
        *_left_on(scenario, steps),
        *_begun_again(scenario, steps),
        *_procedure(scenario),
        *forgotten(scenario),
    ]
    found = list(described(scenario, [*found, *with_gas(scenario, found)]))
    return [
        *found,
        *held(scenario, found),
        *lifted_in_time(scenario, found),
        *heard(scenario, found),
        *countered(scenario, found),
    ]


def _steps(scenario: Scenario) -> list[Step]:
    """What is on in each step; settings last until changed."""
    pumps = {item.id for item in scenario.train if item.suction is not None}
    named = {name for step in scenario.procedure for name in step.suction}
    if not scenario.procedure:
        everything = frozenset(scenario.flows), frozenset(scenario.heat), frozenset(pumps)
        return [Step(1, "run as stated", *everything)]
    flows: set[str] = set()
    heat: set[str] = set()
    running = pumps - named
    out = []
    for number, step in enumerate(scenario.procedure, 1):
        for said, on in ((step.flows, flows), (step.heat, heat), (step.suction, running)):
            for name, value in said.items():
                on.discard(name) if value == "off" else on.add(name)
        on_now = frozenset(flows), frozenset(heat), frozenset(running)
        out.append(Step(number, step.step, *on_now))
    return out


def _upset(
    kind: str, what: str, step: Step, says: str, changes: Mapping[str, float], late: bool = False
) -> Overlay:
    return Overlay(
        id=f"{kind}:{what}:{step.name}" if what else f"{kind}:{step.name}",
        title=f"{says} from step {step.name} on",
        case="upset",
        changes=changes,
        from_step=step.number,
        late=late,
    )


def _flows(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    for name, flow in scenario.flows.items():
        path = f"flows.{name}"
        reagent = scenario.reagents[flow.reagent]
        for step in (s for s in steps if name in s.flows):
            lost = {f"{path}.delivered": 0.0}
            yield _upset("flow lost", name, step, f"{name} does not come, unnoticed,", lost)
            midway = _upset(
                "flow lost", name, step, f"{name} stops in mid-step, unnoticed,", lost, True
            )
            yield replace(midway, id=f"{midway.id}:midway")
            yield _upset(
                "flow at its most", name, step, f"{name} runs at the most it can give",
                {f"{path}.at_most_share": 1.0},
            )  # fmt: skip
            held = reagent.held
            # All valves behind one regulator see it fail; it is played once.
            behind = [n for n in step.flows if scenario.flows[n].reagent == flow.reagent]
            if (
                held is not None
                and (held.as_ == "cylinder" or held.regulator is not None)
                and name == min(behind)
            ):
                of = "cylinder" if held.as_ == "cylinder" else "supply"
                yield _upset(
                    "regulator failed", name, step,
                    f"the regulator of {' and '.join(sorted(behind))} lets the {of}'s pressure"
                    " through",
                    {f"flows.{n}.regulator_failed": 1.0 for n in behind},
                )  # fmt: skip
            instrument = flow.instrument
            if instrument is not None and (
                instrument.kind == "float meter"
                or (instrument.kind == "mass flow controller" and not instrument.calibration_gas)
            ):
                # Read as if its scale were for this gas although it is for air, or the reverse.
                yield _upset(
                    "wrong scale", name, step, f"{name} is set on the scale for another gas",
                    {f"{path}.wrong_scale": 1.0},
                )  # fmt: skip
        for step in steps[1:]:
            before = steps[step.number - 2]
            if name in before.flows and name not in step.flows:
                yield _upset(
                    "flow not stopped", name, step, f"{name} is not shut off, unnoticed,",
                    {f"{path}.stays_on": 1.0},
                )  # fmt: skip


def _heat(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    for name, heat in scenario.heat.items():
        path = f"heat.{name}"
        cools = (heat.set_temperature or inf) < scenario.ambient.temperature
        for step in (s for s in steps if name in s.heat):
            if heat.hottest is not None or not cools:
                yield _upset(
                    "heat at its most", name, step, f"{name} runs to its hottest",
                    {f"{path}.at_hottest": 1.0},
                )  # fmt: skip
            gives = "no longer cools" if cools else "gives no heat"
            yield _upset("heat lost", name, step, f"{name} {gives}", {f"{path}.delivered": 0.0})
            if heat.fuel is not None:
                yield _upset(
                    "flame out", name, step, f"the flame of {name} goes out and its gas goes on",
                    {f"{path}.delivered": 0.0, f"{path}.flame_out": 1.0},
                )  # fmt: skip


def _items(scenario: Scenario, reference: Reference, steps: Sequence[Step]) -> Iterator[Overlay]:
    boiled, cooled, gape = _boiled_through(scenario), _cooled(scenario), scenario.gaping
    for item in scenario.train:
        path = f"train.{item.id}"
        for step in (s for s in steps if s.flows or (s.heat and item.id in boiled)):
            blocked = {f"{path}.blocked": 1.0}
            if item.id not in gape:
                yield _upset("blocked", item.id, step, f"{item.id} is blocked", blocked)
            # Where it is sucked, gas does not leave at a joint: air comes in.
            if item.to is None and item.id not in _before(scenario, step.pumps):
                yield _upset(
                    "joint open outward", item.id, step,
                    f"a joint of {item.id} opens and all gas leaves there",
                    {f"{path}.open_outward": 1.0},
                )  # fmt: skip
        for step in steps:
            if item.to is None:
                yield _upset(
                    "joint open inward", item.id, step, f"a joint of {item.id} lets air in",
                    {f"{path}.open_inward": 1.0},
                )  # fmt: skip
            if _may_break(reference, item.material):
                yield _upset(
                    "broken", item.id, step, f"{item.id} breaks",
                    {
                        f"{path}.open_outward": 1.0,
                        f"{path}.open_inward": 1.0,
                        f"{path}.absorbing": 0.0,
                    },
                )  # fmt: skip
            if item.id in cooled:
                yield _upset(
                    "cooling lost", item.id, step, f"the cooling of {item.id} is lost",
                    {f"{path}.{field}": value for field, value in cooled[item.id].items()},
                )  # fmt: skip
            if item.liquid is not None and not _may_break(reference, item.material):
                yield _upset(
                    "spilled", item.id, step, f"the liquid of {item.id} is spilled",
                    {f"{path}.spilled": 1.0},
                )  # fmt: skip
            if item.absorbs:
                yield _upset(
                    "absorbent spent", item.id, step,
                    f"the absorbent of {item.id} is spent or bypassed",
                    {f"{path}.absorbing": 0.0},
                )  # fmt: skip
            if item.reactions:
                yield _upset(
                    "no reaction", item.id, step, f"the reaction in {item.id} does not start",
                    {f"{path}.reacting": 0.0},
                )  # fmt: skip
                yield _upset(
                    "reaction complete", item.id, step,
                    f"the reaction in {item.id} goes to completion",
                    {f"{path}.complete": 1.0},
                )  # fmt: skip


def _cooled(scenario: Scenario) -> dict[str, dict[str, float]]:
    """What changes of each item that is cooled once it is not any more.

    A liquid that is stated cold without a bath is a liquefied gas: it cools itself.
    """
    room, found = scenario.ambient.temperature, dict[str, dict[str, float]]()
    for item in scenario.train:
        lost = {} if item.coolant_temperature is None else {"cooling": 0.0}
        if item.bath_temperature is not None and item.bath_temperature < room:
            lost["bath_temperature"] = room
        if item.liquid is None and item.temperature is not None and item.temperature < room:
            lost["temperature"] = room
        if lost:
            found[item.id] = lost
    return found


#: An opening at least so wide is not stopped up by what boils, m (a judgement, no source).
WIDE = 0.015


def _boiled_through(scenario: Scenario) -> set[str]:
    """Items through which vapour of a heated liquid goes and that are narrow enough to plug."""
    heated = {heat.heats for heat in scenario.heat.values()}
    found = {item.id for item in scenario.train if item.liquid and item.id in heated}
    for item in scenario.train:  # in the order of the file, which a branch may go against
        if found & set(item.from_):
            found.add(item.id)
    bores = {i.id: min(i.mouth or inf, i.inner_diameter or inf) for i in scenario.train}
    for item in scenario.train:  # a vessel whose neck nobody measured is as wide as what follows
        if bores[item.id] == inf:
            after = [bores[i.id] for i in scenario.train if item.id in i.from_]
            bores[item.id] = min(after, default=0.0)
    wide = {name for name, bore in bores.items() if WIDE <= bore < inf}
    return found - wide


def _may_break(reference: Reference, material: str | None) -> bool:
    """Whether a part may be of glass or ceramic; one that nobody describes may be."""
    return material is None or reference.material(material).kind in BRITTLE


def _pumps(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    """Suction lost: what was drawn stays, and air or what drives the pump comes back."""
    for item in scenario.train:
        for step in (s for s in steps if item.id in s.pumps):
            yield _upset(
                "suction lost", item.id, step, f"{item.id} no longer sucks",
                {f"train.{item.id}.suction.working": 0.0},
            )  # fmt: skip


def _before(scenario: Scenario, pumps: frozenset[str]) -> set[str]:
    """Items that these pumps suck on: all that stand before them."""
    return {name for pump in pumps for name in scenario.above(pump)}


def _ventilation(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    if scenario.ventilation is None:
        return
    for step in steps:
        yield _upset(
            "ventilation lost", "", step, "ventilation is lost", {"ventilation.working": 0.0}
        )


def _power(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    """Everything that hangs on the power at once; a controller nobody described may do either."""
    for step in steps:
        for stuck in ("closes", "opens") if open_questions(scenario) else ("",):
            lost = without_power(scenario, stuck)
            changes = {f"flows.{name}.delivered": 0.0 for name in lost.closes}
            changes |= {f"flows.{n}.at_most_share": 1.0 for n in lost.opens if n in step.flows}
            changes |= {f"heat.{name}.delivered": 0.0 for name in lost.heat_off}
            changes |= {f"train.{n}.suction.working": 0.0 for n in lost.pumps if n in step.pumps}
            if lost.ventilation_stops:
                changes["ventilation.working"] = 0.0
            if changes:
                how = f", and its controllers {stuck.removesuffix('s')}," if stuck else ""
                yield _upset("power lost", stuck, step, f"the power fails{how}", changes)


def _power_back(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    """What starts by itself when the power comes back, while the rest stays off."""
    lost = without_power(scenario, "closes" if open_questions(scenario) else "")
    for step in steps:
        starts = [name for name in lost.starts if name in step.heat]
        starts += [name for name in lost.flows_back if name in step.flows]
        if not starts:
            continue
        changes = {f"flows.{name}.delivered": 0.0 for name in lost.stays_closed}
        changes |= {f"train.{n}.suction.working": 0.0 for n in lost.pumps if n in step.pumps}
        if lost.ventilation_stays_off:
            changes["ventilation.working"] = 0.0
        if changes:
            says = f"the power comes back and {' and '.join(starts)} alone starts"
            yield _upset("power back", "", step, says, changes)


def _left_on(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    """Whatever the last step leaves on goes on overnight."""
    if not scenario.procedure or not (steps[-1].flows or steps[-1].heat or steps[-1].pumps):
        return
    yield Overlay(
        id=f"left on:{steps[-1].name}",
        title="what the last step leaves on stays on overnight",
        case="upset",
        changes={LEFT_ON: 1.0},
        from_step=steps[-1].number + 1,
    )


def _begun_again(scenario: Scenario, steps: Sequence[Step]) -> Iterator[Overlay]:
    """The run broken off after a step and begun again at once; a second run after the last."""
    if not scenario.procedure:
        return
    for step in steps:
        last = step is steps[-1]
        if not (last or step.flows or step.heat or step.pumps):
            continue
        says = f"a second run starts at once after step {step.name}"
        if not last:
            says = f"the run is broken off after step {step.name} and starts again at once"
        yield Overlay(
            id=f"begun again:{step.name}",
            title=says,
            case="upset",
            changes={BEGUN_AGAIN: float(step.number)},
            from_step=1,
        )


def _procedure(scenario: Scenario) -> Iterator[Overlay]:
    """Each step left out, and each two neighbours the other way round."""
    plain = played(scenario, range(len(scenario.procedure)))
    names = [step.step for step in scenario.procedure]
    for n, name in enumerate(names):
        order: list[int | None] = list(range(len(names)))
        order[n] = None
        yield Overlay(
            id=f"skipped:{name}",
            title=f"step {name} is left out",
            case="upset",
            changes=_changed(plain, played(scenario, order)),
            from_step=n + 1,
        )
    for n, (first, second) in enumerate(zip(names, names[1:], strict=False)):
        order = list(range(len(names)))
        order[n], order[n + 1] = n + 1, n
        yield Overlay(
            id=f"swapped:{first}:{second}",
            title=f"step {second} is done before step {first}",
            case="upset",
            changes=_changed(plain, played(scenario, order)),
            from_step=n + 1,
        )


def _changed(plain: Mapping[str, float], other: Mapping[str, float]) -> dict[str, float]:
    return {path: value for path, value in other.items() if plain[path] != value}
