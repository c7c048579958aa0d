"""What people breathe beside the apparatus: near field, room, and what a hood lets out.

Without a mixing factor people breathe in the near field of what is let into the room; with one,
the mixed room's air. Never both: each stands for the same doubt. What a proven hood lets out to the
person in front of it comes on top.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from review import FloatArray, Input, Method, Quantity, Setup
from review.physics.room import interzonal_airflow

from .flush import Flush, flushed
from .hood import CONTAINED, RATED, TRACER, Hood, hood
from .oxides import NITRIC_OXIDE, NITROGEN_DIOXIDE, in_the_room, on_the_way_out

#: Near field where the scenario says nothing: an arm's length (common practice, no source), and
#: still indoor air. Surveys of indoor workplaces find 0.05 m/s at the low end (Baldwin & Maynard,
#: Ann. Occup. Hyg. 42 (1998) 303, from memory).
RADIUS, AIR_SPEED = 0.5, 0.05
LET_OUT = (
    "into_hood", "into_room", "spilled_hood", "amount_hood", "amount_room", "room", "room_uncaught",
)  # fmt: skip
#: How long a step lasts where nobody says: a working day, s.
UNKNOWN_STAY = 8 * 3600.0

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
    validity=("highest of the step; what leaves outdoors does not come back in"),
)


class Air:
    """The air that people breathe, over trials."""

    def __init__(self, setup: Setup) -> None:
        self.setup, self.substances = setup, list(setup.species)
        self.into_hood = setup.air("into_hood")
        self.into_room = setup.air("into_room")
        self.spilled = setup.air("spilled_hood")
        self.hood: Hood = hood(setup, self.into_hood.sum(axis=0), self.spilled.sum(axis=0))
        self.earns = np.isfinite(self.hood.factor.value)
        self.mixed = setup.states("ventilation.mixing_factor")
        self.between = near_field_airflow(setup)
        self._flushed = flushed(setup)
        #: What is let out and what the room holds, (substances, trials), by name.
        self._let = {name: setup.air(name) for name in LET_OUT}
        if NITRIC_OXIDE in setup.rows:
            self._add_dioxide(setup.rows[NITRIC_OXIDE])

    def _add_dioxide(self, source: int) -> None:
        """Nitric oxide that has become dioxide counts as both."""
        setup = self.setup
        way = on_the_way_out(setup, source)
        _, ends = self._times
        stays = in_the_room(setup, self._let["room_uncaught"][source], ends.reshape(-1))
        row = setup.rows.get(NITROGEN_DIOXIDE)
        if row is None:
            self.substances.append(setup.reference.substance(NITROGEN_DIOXIDE))

        def more(array: FloatArray, part: FloatArray) -> FloatArray:
            made = np.where(array[source] == 0, 0.0, array[source] * part)
            if row is None:
                return np.vstack([array, made])
            out = array.copy()
            out[row] = out[row] + made
            return out

        for name, array in self._let.items():
            part = np.maximum(way, stays) if name.startswith("room") else way
            self._let[name] = more(array, part)
        self._flushed = {
            to: Flush(more(flush.rate, way), more(flush.amount, way))
            for to, flush in self._flushed.items()
        }

    @cached_property
    def missed(self) -> FloatArray:
        """Share of what was ever let into the hood that is in the room.

        None behind a hood that contains as tested, all behind one that earns nothing, in between
        what escapes to the person in front of it. A step's release stays where it went.
        """
        cells, runs = self.setup.shape
        design = self.hood.design
        escapes = (np.where(np.isfinite(design), design, 1.0) - 1) * RATED * self.between.value
        share = np.where(np.isfinite(design), np.minimum(escapes / TRACER, 1.0), 1.0)
        share = share.reshape(cells, runs).copy()
        # A step in which nothing goes there adds nothing.
        used = (self.into_hood.sum(axis=0) + self.spilled.sum(axis=0)).reshape(cells, runs) != 0
        share[1:] = np.maximum.accumulate(np.where(used, share, 0.0)[1:], axis=0)
        return np.asarray(share.reshape(-1), dtype=np.float64)

    def far(self, row: int) -> FloatArray:
        """Content of the room, the largest of the step: behind a hood that is not proven, all
        that was ever let into it."""
        return self._shared(self._let["room"][row], self._let["room_uncaught"][row])

    def least_oxygen(self) -> FloatArray:
        """Oxygen in the room, the least of the step."""
        caught = self.setup.air("least_oxygen_caught")
        return self._shared(caught, self.setup.air("least_oxygen_uncaught"))

    def _shared(self, caught: FloatArray, uncaught: FloatArray) -> FloatArray:
        part = caught + self.missed * (uncaught - caught)
        behind = np.where(self.missed == 1, uncaught, part)
        return np.asarray(np.where(self.missed == 0, caught, behind))

    def released(self, row: int) -> FloatArray:
        """Release of a substance into the room, m3/s, the largest of the step."""
        return self._roomed(self._most("room", row), self._most("hood", row))

    def _most(self, to: str, row: int) -> FloatArray:
        """Largest release of the step, m3/s: what flows, or what a flow pushes out first."""
        return np.asarray(np.maximum(self._let[f"into_{to}"][row], self._flushed[to].rate[row]))

    def _roomed(self, room: FloatArray, hooded: FloatArray) -> FloatArray:
        """What of both is in the room: all, where the hood earns nothing."""
        return np.asarray(room + np.where(self.earns, 0.0, hooded))

    def hooded(self, row: int) -> FloatArray:
        """Release of a substance into the hood, spills too, m3/s, the largest of the step."""
        return np.asarray(self._most("hood", row) + self._let["spilled_hood"][row])

    def beyond_doubt(self, row: int) -> FloatArray:
        """Release into the room that is there for an alarm too, m3/s: of what is let into the
        hood only what a hood that stands still cannot draw."""
        still = self.setup.number("ventilation.working").value <= 0
        hooded = np.where(still, self._let["into_hood"][row], 0.0)
        return np.asarray(self._let["into_room"][row] + hooded)

    def contained(self, row: int) -> FloatArray:
        """What a proven hood lets out to the person before it, mole fraction."""
        return self._contained(row, self.hooded(row), "let into").value

    def _contained(self, row: int, hooded: FloatArray, how: str) -> Quantity:
        name = f"{self.substances[row].name} {how} the hood"
        let_in = self.setup.quantity(hooded, name, "m3/s", "balance of the train")
        return CONTAINED(h=let_in, f=self.hood.factor)

    def breathed(self, row: int) -> Quantity:
        """Peak of a substance in the breathing zone, mole fraction with its working."""
        hooded, far = self.hooded(row), self.far(row)
        return self._breathed(row, self.released(row), hooded, far, "let into")

    def averaged(self, row: int, span: float) -> Quantity:
        """Highest average over a span of time, s, that begins or ends with a step.

        Of what is let out in it, as if evenly: what varies comes to no more than that.
        """
        cells, runs = self.setup.shape
        starts, ends = self._times
        far = self.far(row).reshape(cells, runs)
        rates, amounts = (
            {to: f(to, row).reshape(cells, runs) for to in ("room", "hood")}
            for f in (self._most, self._amount)
        )
        windows = [(ends - span, ends), (starts, starts + span)]
        found = []
        for begin, end in windows:
            let = {to: np.zeros((cells, runs)) for to in rates}
            room = far.copy()
            for k in range(cells):
                over = np.minimum(end, ends[k]) - np.maximum(begin, starts[k])
                over = np.where(np.isnan(over), span, np.clip(over, 0.0, None))
                # The stated plan stands alone, and so do the steps without it.
                over[0 if k else slice(1, None)] = 0.0
                for to, rate in rates.items():
                    most = np.fmin(rate[k] * over, amounts[to][k])
                    let[to] += np.where((over == 0) | (rate[k] == 0), 0.0, most) / span
                room = np.where(over > 0, np.maximum(room, far[k]), room)
            found.append((let, room))
        (early, room_early), (late, room_late) = found
        both = {to: np.maximum(early[to], late[to]).reshape(-1) for to in early}
        return self._breathed(
            row,
            self._roomed(both["room"], both["hood"]),
            both["hood"] + self._let["spilled_hood"][row],
            np.maximum(room_early, room_late).reshape(-1),
            "let, on average, into",
        )

    def mean(self, row: int) -> Quantity:
        """Average of each step, of what it lets out as if evenly."""
        step = self.duration
        each = {
            to: np.divide(self._amount(to, row), step, out=np.zeros_like(step), where=step != 0)
            for to in ("room", "hood")
        }
        roomed = self._roomed(each["room"], each["hood"])
        hooded = each["hood"] + self._let["spilled_hood"][row]
        return self._breathed(row, roomed, hooded, self.far(row), "let, on average, into")

    @cached_property
    def _times(self) -> tuple[FloatArray, FloatArray]:
        """When each cell begins and ends, s, (cells, runs); the stated plan begins at 0."""
        cells, runs = self.setup.shape
        paths = ["duration", *(step.duration_path for step in self.setup.steps)]
        lasts = np.array(
            [self.setup.number(p).value.reshape(cells, runs)[c] for c, p in enumerate(paths)]
        )
        lasts = np.where(np.isnan(lasts), UNKNOWN_STAY, lasts)
        ends = np.concatenate([lasts[:1], np.cumsum(lasts[1:], axis=0)])
        return ends - lasts, ends

    @property
    def duration(self) -> FloatArray:
        """How long each step lasts, s, over trials."""
        starts, ends = self._times
        return np.asarray((ends - starts).reshape(-1))

    def lasting(self, row: int) -> FloatArray:
        """How long the release of a step goes on, s: what it lets out over its rate."""
        step = self.duration
        rate = self._most("room", row) + self.hooded(row)
        amount = (
            self._amount("room", row)
            + self._amount("hood", row)
            + self._let["spilled_hood"][row] * step
        )
        return np.asarray(np.where(rate > 0, np.fmin(amount / rate, step), step))

    def _amount(self, to: str, row: int) -> FloatArray:
        """All of it that is let out in a step, m3: what flows and what is pushed out before it."""
        pushed = self._flushed[to].rate[row] * self.duration
        held = self._flushed[to].amount[row]
        pushed = np.where(self._flushed[to].rate[row] == 0, 0.0, np.fmin(pushed, held))
        whole = self._let[f"amount_{to}"][row] + pushed
        return np.asarray(np.fmin(whole, self._most(to, row) * self.duration))

    def _breathed(
        self, row: int, released: FloatArray, hooded: FloatArray, room: FloatArray, how: str
    ) -> Quantity:
        setup, name = self.setup, self.substances[row].name
        far = setup.quantity(room, f"{name} in the room", "mol/mol", "balance of the room")
        release = setup.quantity(released, f"{name} {how} the room", "m3/s", "balance of the train")
        near = far if self.mixed else NEAR(g=release, beta=self.between, far=far)
        return BREATHED(near=near, hood=self._contained(row, hooded, how))

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


def near_field_airflow(setup: Setup) -> Quantity:
    """Air that passes between the near field and the room, m3/s, as stated or by default."""
    return BETWEEN(
        r=_given(setup, "near_field_radius", RADIUS, "m"),
        s=_given(setup, "air_speed", AIR_SPEED, "m/s"),
    )


def _given(setup: Setup, field: str, otherwise: float, unit: str) -> Quantity:
    stated = setup.number(f"ventilation.{field}")
    missing = np.isnan(stated.value).all()
    return Quantity.of(
        np.full(setup.trials, otherwise) if missing else stated.value,
        name=field.replace("_", " "),
        unit=unit,
        source="default: not given in the scenario" if missing else "scenario",
    )
