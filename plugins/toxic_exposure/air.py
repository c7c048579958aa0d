"""What people breathe beside the apparatus: near field, room, and what a hood lets out.

Without a mixing factor people breathe in the near field of what is let into the room; with one,
the mixed room's air. Never both: each stands for the same doubt. What a proven hood lets out to the
person in front of it comes on top.
"""

from __future__ import annotations

import numpy as np

from review import FloatArray, Input, Method, Place, Quantity, Setup
from review.physics.gas import R
from review.physics.room import interzonal_airflow

from .hood import CONTAINED, Hood, hood

#: Near field where the scenario says nothing: an arm's length (common practice, no source), and
#: still indoor air. Surveys of indoor workplaces find 0.05 m/s at the low end (Baldwin & Maynard,
#: Ann. Occup. Hyg. 42 (1998) 303, from memory).
RADIUS, AIR_SPEED = 0.5, 0.05

BETWEEN = Method(
    id="exposure.interzonal_airflow",
    title="Air that passes between the near field and the room",
    result="air between near field and room",
    unit="m3/s",
    formula="pi * r**2 * s",
    inputs=(
        Input("r", "r", "m", "radius of the half sphere around the source"),
        Input("s", "s", "m/s", "speed of the room's random air movement"),
    ),
    function=lambda r, s: interzonal_airflow(r, s),
    source="Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542: half the surface 2 pi r^2 times s",
    validity="source on a bench, no directed draught; a low speed is the hazardous side",
)
NEAR = Method(
    id="exposure.near_field",
    title="Content of the near field",
    result="content of the near field",
    unit="mol/mol",
    formula="where(g > 0, far + (1 - far) * g / (beta + g), far)",
    inputs=(
        Input("g", "G", "m3/s", "release of the substance into the room, largest of the step"),
        Input("beta", "beta", "m3/s", "air between near field and room"),
        Input("far", "C_F", "mol/mol", "content of the room, largest of the step"),
    ),
    function=lambda g, beta, far: np.where(g > 0, far + (1 - far) * g / (beta + g), far),
    source=(
        "two-zone model of Hemeon and Nicas (1996); near field above the mixed far field by G/beta "
        "as in Nicas, Ann. Work Expo. Health 68 (2024) 78, here so that it stays below 1"
    ),
    validity=(
        "the near field settles in V/beta, 7 s with the default figures, and is taken as settled; "
        "dilution by other gas from the same outlet earns nothing"
    ),
)
NEAR_OXYGEN = Method(
    id="exposure.near_field_oxygen",
    title="Oxygen in the near field",
    result="oxygen in the near field",
    unit="mol/mol",
    formula="(g + beta * far) / (beta + L)",
    inputs=(
        Input("g", "G", "m3/s", "oxygen let into the room"),
        Input("L", "L", "m3/s", "all gas let into the room"),
        Input("beta", "beta", "m3/s", "air between near field and room"),
        Input("far", "C_F", "mol/mol", "oxygen in the room"),
    ),
    function=lambda g, L, beta, far: (g + beta * far) / (beta + L),
    source="balance of the near field: what comes in pushes as much out",
    validity="settled near field",
)
BREATHED = Method(
    id="exposure.concentration",
    title="Content of the breathing zone, peak of the step",
    result="content of the breathing zone",
    unit="mol/mol",
    formula="near + hood",
    inputs=(
        Input("near", "C_N", "mol/mol", "from what is let into the room"),
        Input("hood", "C_H", "mol/mol", "what a tested hood lets out to the person before it"),
    ),
    function=lambda near, hood: near + hood,
    source="sum",
    validity=(
        "highest of the step, and taken as its 15-minute average too; what leaves outdoors does "
        "not come back in"
    ),
)


class Air:
    """The air that people breathe, over trials."""

    def __init__(self, setup: Setup) -> None:
        self.setup, self.size = setup, len(setup.species)
        self.into_hood = setup.air("into_hood")
        self.into_room = setup.air("into_room")
        self.hood: Hood = hood(setup, self.into_hood.sum(axis=0))
        self.earns = np.isfinite(self.hood.factor.value)
        self.mixed = "ventilation.mixing_factor" in setup.resolved.base
        self.between = BETWEEN(
            r=_given(setup, "near_field_radius", RADIUS, "m"),
            s=_given(setup, "air_speed", AIR_SPEED, "m/s"),
        )
        self.flush_hood, self.flush_room = _flushed(setup)

    def far(self, row: int) -> FloatArray:
        """Content of the room, the largest of the step: behind a hood that is not proven, all
        that was ever let into it."""
        caught, uncaught = self.setup.air("room"), self.setup.air("room_uncaught")
        return np.asarray(np.where(self.hood.proven, caught[row], uncaught[row]))

    def least_oxygen(self) -> FloatArray:
        """Oxygen in the room, the least of the step."""
        caught = self.setup.air("least_oxygen_caught")
        uncaught = self.setup.air("least_oxygen_uncaught")
        return np.asarray(np.where(self.hood.proven, caught, uncaught))

    def released(self, row: int) -> FloatArray:
        """Release of a substance into the room, m3/s, the largest of the step."""
        hooded = np.maximum(self.into_hood[row], self.flush_hood[row])
        roomed = np.maximum(self.into_room[row], self.flush_room[row])
        return np.asarray(roomed + np.where(self.earns, 0.0, hooded))

    def breathed(self, row: int) -> Quantity:
        """Peak of a substance in the breathing zone, mole fraction with its working."""
        setup, name = self.setup, self.setup.species[row].name
        far = setup.quantity(self.far(row), f"{name} in the room", "mol/mol", "balance of the room")
        release = setup.quantity(
            self.released(row), f"{name} let into the room", "m3/s", "balance of the train"
        )
        near = far if self.mixed else NEAR(g=release, beta=self.between, far=far)
        let_in = setup.quantity(
            np.maximum(self.into_hood[row], self.flush_hood[row]),
            f"{name} let into the hood", "m3/s", "balance of the train",
        )  # fmt: skip
        return BREATHED(near=near, hood=CONTAINED(h=let_in, f=self.hood.factor))

    def oxygen(self, row: int, *, least: bool) -> Quantity:
        """Oxygen that people breathe, the least or the most of the step."""
        setup = self.setup
        far = setup.quantity(
            self.least_oxygen() if least else self.far(row),
            "oxygen in the room", "mol/mol", "balance of the room",
        )  # fmt: skip
        if self.mixed:
            return far
        total = self.into_room.sum(axis=0) + np.where(self.earns, 0.0, self.into_hood.sum(axis=0))
        own = self.into_room[row] + np.where(self.earns, 0.0, self.into_hood[row])
        if not least:
            own = self.released(row)
            total = np.maximum(total, own)
        return NEAR_OXYGEN(
            g=setup.quantity(own, "oxygen let into the room", "m3/s", "balance of the train"),
            L=setup.quantity(total, "gas let into the room", "m3/s", "balance of the train"),
            beta=self.between,
            far=far,
        )

    @property
    def words(self) -> str:
        """What a reader must know of hood and room to understand the numbers."""
        ventilation = self.setup.scenario.ventilation
        lacking = [
            text
            for field, text in (("room_volume", "room volume"), ("air_changes", "air changes"))
            if ventilation is None or getattr(ventilation, field) is None
        ]
        said = [self.hood.words] if self.hood.words else []
        if lacking:
            said.append(f"the {' and '.join(lacking)} of the room are not given")
        return "; ".join(said)


def _given(setup: Setup, field: str, otherwise: float, unit: str) -> Quantity:
    stated = setup.number(f"ventilation.{field}")
    missing = np.isnan(stated.value).all()
    return Quantity.of(
        np.full(setup.trials, otherwise) if missing else stated.value,
        name=field.replace("_", " "),
        unit=unit,
        source="default: not given in the scenario" if missing else "scenario",
    )


def _flushed(setup: Setup) -> tuple[FloatArray, FloatArray]:
    """Release while the gas still held from the step before is pushed out, m3/s (species, trials).

    The richest gas between the outlet and the nearest item that reacts, absorbs, gives off vapour,
    or joins streams leaves at the step's flow.
    """
    shape = (len(setup.species), setup.trials)
    found = {"hood": np.zeros(shape), "room": np.zeros(shape)}
    ambient = setup.number("ambient.temperature").value / setup.number("ambient.pressure").value
    for place in setup.places:
        to = place.model.to if place.is_end else "room"
        share = 1.0 if place.is_end else place.number("open_outward").value
        if to not in found or np.all(share <= 0):
            continue
        held = np.max([p.composition("old") * whole for p, whole in _passing(setup, place)], axis=0)
        pushed = place.flow.value * share
        # Gas at rest is pushed out by nothing, whatever it is.
        found[to] += np.where(pushed == 0, 0.0, held * pushed * R * ambient)
    return found["hood"], found["room"]


def _passing(setup: Setup, place: Place) -> list[tuple[Place, FloatArray]]:
    """An end and the items upstream whose held gas leaves there as it is, 1 where it does.

    An absorbent that is out of action holds nothing back.
    """
    fed = {flow.into for flow in setup.scenario.flows.values()}
    whole = np.ones(setup.trials)
    chain, graph = [(place, whole)], setup.resolved.graph
    while True:
        last, before = chain[-1][0], graph.upstream[chain[-1][0].index]
        model = last.model
        if model.absorbs:
            whole = whole * (last.number("absorbing").value == 0)
        changes = model.reactions or (model.liquid and not model.absorbs) or not whole.any()
        if changes or len(before) != 1 or model.id in fed:
            return chain
        chain.append((setup.places[before[0]], whole))
