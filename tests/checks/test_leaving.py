"""Minutes until people cannot leave, against the two-zone room integrated step by step.

VN CN' = G + beta (CF - CN), VF CF' = beta (CN - CF) - Q CF (Nicas, Am. Ind. Hyg. Assoc. J. 57
(1996) 542), integrated by scipy for set-ups drawn from a start number, with the detector in the
near field, in the far field and in the duct of a hood that nobody has tested.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from review import Review, loads
from review.reference.data import for_exposure
from tests.support import shared_engine

START, DRAWN = 20, 51
PLACES = ("near", "far", "duct")
#: AEGL-2 and AEGL-3 for 10, 30, 60, 240 and 480 minutes and IDLH, ppm: US EPA, compiled AEGL
#: values; NIOSH, IDLH values of 1994.
LEVELS = {
    "hydrogen sulfide": ([41, 32, 27, 20, 17], [76, 59, 50, 37, 31], 100),
    "carbon monoxide": ([420, 150, 83, 33, 27], [1700, 600, 330, 150, 130], 1200),
    "chlorine": ([2.8, 2.8, 2.0, 1.0, 0.71], [50, 28, 20, 10, 7.1], 10),
}
ENDS = (600.0, 1800.0, 3600.0, 14400.0, math.inf)
HOOD = 0.24  # m3/s: 1.2 m x 0.4 m at 0.5 m/s


@dataclass(frozen=True)
class Drawn:
    """One set-up: a gas let out beside a person in a room with a detector."""

    gas: str
    place: str
    release: float
    """Of the gas itself, m3/s."""
    volume: float
    changes: float
    radius: float
    speed: float
    alarm: float
    """ppm"""
    delay: float
    notice: float
    way: float

    @property
    def text(self) -> str:
        flow = self.release * 60e3 / 0.05
        hood = (
            "hood: {kind: fume hood, opening_width: 1.2 m, opening_height: 0.4 m, "
            "face_velocity: 0.5 m/s}"
        )
        at = {"near": "bench, distance: 50 mm", "far": "room", "duct": "hood"}[self.place]
        return f"""
title: drawn
ambient: {{temperature: 20 degC, pressure: 1 atm}}
reagents: {{gas: {{state: gas, composition: {{{self.gas}: 5 %, nitrogen: 95 %}}}}}}
flows: {{gas: {{reagent: gas, into: tube, rate: {flow!r} L/min, reference: ambient}}}}
train:
  - {{id: tube, kind: line, inner_diameter: 20 mm, length: 100 mm}}
  - {{id: out, kind: outlet, to: {"hood" if self.place == "duct" else "room"}}}
ventilation:
  room_volume: {self.volume!r} m3
  air_changes: {self.changes!r} / hour
  near_field_radius: {self.radius!r} m
  air_speed: {self.speed!r} m/s
  {hood if self.place == "duct" else ""}
safeguards:
  - {{kind: detector, senses: {self.gas}, alarm: {self.alarm!r} ppm, at: {at},
     response_time: {self.delay!r} s, takes: {self.notice!r} s}}
  - {{kind: free way out, takes: {self.way!r} s}}
procedure: [{{step: let out, duration: 8 h, flows: {{gas: on}}}}]
"""

    def until(self, ppm: float, far: bool = False) -> float:
        """Seconds until near or far field is there, by integration."""
        beta, q = math.pi * self.radius**2 * self.speed, self.changes * self.volume / 3600
        vn = 2 / 3 * math.pi * self.radius**3

        def change(_: float, c: Sequence[float]) -> list[float]:
            across = beta * (c[0] - c[1])
            return [(self.release * 1e6 - across) / vn, (across - q * c[1]) / (self.volume - vn)]

        def reached(_: float, c: Sequence[float]) -> float:
            return c[int(far)] - ppm

        reached.terminal = True  # type: ignore[attr-defined]
        done = solve_ivp(
            change, (0.0, 1e6), [0.0, 0.0], events=reached, method="LSODA", rtol=1e-10, atol=1e-9
        )
        return float(done.t_events[0][0]) if done.t_events[0].size else math.inf

    @property
    def idlh(self) -> float:
        return self.until(LEVELS[self.gas][2])

    def level(self, values: Sequence[float]) -> float:
        """When the near field is at the level for so long a stay."""
        found = [math.inf]
        for ppm, since, end in zip(values, (0.0, *ENDS[:-1]), ENDS, strict=True):
            late = max(self.until(ppm), since)
            found.append(late if late <= end else math.inf)
        return min(found)

    @property
    def margin(self) -> float:
        """Time there is over time needed."""
        two, three, _ = LEVELS[self.gas]
        harm = min(self.level(two), self.level(three), self.idlh)
        if math.isinf(harm):
            return math.inf
        if self.place == "duct":
            share = self.release / (HOOD + self.release / 0.05)
            alarm = 0.0 if share * 1e6 >= self.alarm else math.inf
        else:
            alarm = self.until(self.alarm, far=self.place == "far")
        return harm / (alarm + self.delay + self.notice + self.way)


@cache
def drawn() -> tuple[Drawn, ...]:
    rng = np.random.default_rng(START)

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    out = []
    for number in range(DRAWN):
        gas = list(LEVELS)[number // 3 % 3]
        idlh, radius, speed = LEVELS[gas][2], between(0.3, 0.8), between(0.03, 0.2)
        beta = math.pi * radius**2 * speed
        limit = {"hydrogen sulfide": 1.0, "carbon monoxide": 25.0, "chlorine": 0.4}[gas]
        out.append(
            Drawn(
                gas, PLACES[number % 3], between(0.05, 2.0) * idlh * 1e-6 * beta,
                between(15, 150), between(0.1, 6), radius, speed, limit * between(0.3, 1.0),
                between(3, 30), between(2, 20), between(5, 30),
            )
        )  # fmt: skip
    return tuple(out)


@cache
def _reviewed(number: int) -> Review:
    return shared_engine().review(loads(drawn()[number].text), upsets=False)


def _of(review: Review, kind: str) -> float:
    (found,) = [m for m in review.measures if m.kind == kind]
    return float(found.value[1, 0])


@pytest.mark.parametrize("number", range(DRAWN))
def test_times_are_those_of_the_two_zone_room(number: int) -> None:
    each, review = drawn()[number], _reviewed(number)
    same: dict[str, Any] = {"rel": 1e-4}
    two, three, _ = LEVELS[each.gas]
    assert _of(review, "exposure.seconds_to_idlh") == pytest.approx(each.idlh, **same)
    assert _of(review, "exposure.seconds_to_aegl_2") == pytest.approx(each.level(two), **same)
    assert _of(review, "exposure.seconds_to_aegl_3") == pytest.approx(each.level(three), **same)
    assert _of(review, "exposure.leaving_margin") == pytest.approx(each.margin, **same)


def test_the_drawn_ones_tell_something() -> None:
    """Some leave time and some do not, with each place of the detector."""
    for place in PLACES:
        margins = [each.margin for each in drawn() if each.place == place]
        assert any(m >= 1 for m in margins) and any(m < 1 for m in margins), place
        finite = [m for m in margins if 1 <= m < math.inf]
        assert finite, place
    assert sum(math.isfinite(each.idlh) for each in drawn()) >= DRAWN // 3


def test_between_stated_times_no_level_is_milder_than_its_own_scaling() -> None:
    """C^n t = k between two times stated is a straight line of logarithms; n is the document's."""
    reference, looked_at = shared_engine().reference, 0
    for gas in LEVELS:
        for name in ("aegl_2", "aegl_3"):
            datum = reference.substance(gas).datum(name)
            for (t1, c1), (t2, c2) in itertools.pairwise(datum.stated):
                for t in np.geomspace(t1, t2, 7)[1:-1]:
                    scaled = np.exp(np.interp(np.log(t), np.log([t1, t2]), np.log([c1, c2])))
                    assert for_exposure(datum, t) <= scaled * (1 + 1e-12)
                    looked_at += 1
    assert looked_at == 3 * 2 * 4 * 5
