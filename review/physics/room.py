"""What a release makes of the room air: well mixed, near and far field, and units of exposure.

Concentrations are volume fractions, emissions m3/s of the pure vapour at room conditions.
The mixing factor K of a room is 1 or more (effective ventilation Q/K).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, Stack, keep_nan, matching, number

#: Longest time that is told, s; how often it is halved, and by how much from nothing.
LONGEST, HALVINGS, STEP = 1e9, 100, 1e-2
#: Oxygen of fresh air, mol/mol.
AIR_OXYGEN = 0.2095


def well_mixed_rise(
    time: ArrayLike,
    emission: ArrayLike,
    airflow: ArrayLike,
    volume: ArrayLike,
    mixing_factor: ArrayLike = 1.0,
    start: ArrayLike = 0.0,
    background: ArrayLike = 0.0,
) -> FloatArray:
    """Concentration in a ventilated room after a time of steady release, volume fraction.

    C = C0 e^(-n t) + (n Cb + G/V) (1 - e^(-n t)) / n, n = Q / (K V)

    time t s; emission G, airflow Q m3/s; volume V m3; mixing_factor K of 1 or more; start C0 and
    background Cb volume fraction; any shapes that broadcast. Without airflow it grows as G t/V.
    Valid: dilute, constant emission and airflow; piece together by handing the end as `start`.

    >>> f"{well_mixed_rise(415.9, 0.06 / 3600, 300 / 3600, 50.0) * 1e6:.1f}"
    '100.0'

    Source: [1] ACGIH, Industrial Ventilation, dilution ventilation; mass balance.
    """
    t = number(time)
    rate = number(airflow) / (number(mixing_factor) * number(volume))
    span = _span(-rate, t)
    source = number(emission) / number(volume) + rate * number(background)
    with np.errstate(invalid="ignore"):  # release without bound in no time: not known
        return np.asarray(number(start) * np.exp(-rate * t) + source * span)


def displaced_oxygen(share: ArrayLike, own: ArrayLike = 0.0) -> FloatArray:
    """Oxygen of a room's air once a gas has displaced a share of it, mol/mol.

    0.2095 (1 - s) + x s

    share s of the room 0 … 1; own x oxygen of that gas, mol/mol; any shapes that broadcast.
    Valid: no ventilation, mixed; the gas pushes air out before it mixes, which errs low for a gas
    without oxygen and high for oxygen.

    >>> f"{displaced_oxygen(0.2):.4f}"
    '0.1676'

    Source: [1] balance of the room.
    """
    s = number(share)
    return np.asarray(AIR_OXYGEN * (1 - s) + number(own) * s)


def interzonal_airflow(radius: ArrayLike, air_speed: ArrayLike) -> FloatArray:
    """Air that passes between a hemispherical near field on a bench and the room, m3/s.

    beta = S s / 2, S = 2 pi r^2 the free surface of the hemisphere

    radius r m; air_speed s m/s of random indoor air; any shapes that broadcast.
    Valid: source on a surface, no directed draught. A low speed is the hazardous side.

    >>> f"{interzonal_airflow(0.5, 0.1):.5f}"
    '0.07854'

    Source: [1] Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542.
    """
    return number(np.pi * number(radius) ** 2 * number(air_speed))


def two_zone_rise(
    time: ArrayLike,
    emission: ArrayLike,
    airflow: ArrayLike,
    interzonal: ArrayLike,
    room_volume: ArrayLike,
    near_volume: ArrayLike,
    start_near: ArrayLike = 0.0,
    start_far: ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Concentrations in near and far field after a time of steady release, volume fraction.

    VN CN' = G + beta (CF - CN), VF CF' = beta (CN - CF) - Q CF, VF = V - VN
    With r1 > r2 the roots of r^2 + [beta/VN + (beta + Q)/VF] r + beta Q/(VN VF) = 0 and
    e_i = exp(r_i t), s_i = (e_i - 1)/r_i, the matrix exponential of the pair in closed form.

    time t s; emission G (in the near field), airflow Q, interzonal beta m3/s; room_volume V,
    near_volume VN m3; start_near, start_far volume fraction; any shapes that broadcast.
    Returns (near, far). Without airflow it goes on growing.
    Valid: dilute, clean supply air, beta above 0, VN below V.

    >>> near, far = two_zone_rise(1e6, 1e-6, 0.1, 0.05, 50.0, 0.25)
    >>> f"{near * 1e6:.1f} {far * 1e6:.1f}"
    '30.0 10.0'

    Source: [1] Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542.
    """
    pair = _Pair(emission, airflow, interzonal, room_volume, near_volume, start_near, start_far)
    t = number(time)
    return keep_nan(pair.near(t)), keep_nan(pair.far(t))


def two_zone_time(
    limit: ArrayLike,
    emission: ArrayLike,
    airflow: ArrayLike,
    interzonal: ArrayLike,
    room_volume: ArrayLike,
    near_volume: ArrayLike,
    start_near: ArrayLike = 0.0,
    start_far: ArrayLike = 0.0,
    *,
    far: bool = False,
) -> FloatArray:
    """Time until the near field, or the far field, first reaches a concentration, s.

    The first t with C(t) >= limit of the pair that `two_zone_rise` solves. Its slope is the same
    pair without a source, from the slopes at the start: p exp(r1 t) + s exp(r2 t), which is zero at
    most once, at ln(-s/p)/(r1 - r2); on each side of that the root is found by halving.

    limit C volume fraction; emission, airflow, interzonal, room_volume, near_volume, start_near and
    start_far as in `two_zone_rise`; far, of the far field; any shapes that broadcast. 0 if it is
    there already; infinite if never, or not within 30 years. Valid: as `two_zone_rise`.

    >>> g, q, beta = 1e-6, 0.0, 0.05
    >>> t = two_zone_time(1e-4, g, q, beta, 50.0, 0.25)
    >>> f"{two_zone_rise(t, g, q, beta, 50.0, 0.25)[0] * 1e6:.3f}"
    '100.000'

    Source: [1] Nicas, Am. Ind. Hyg. Assoc. J. 57 (1996) 542.
    """
    given = (limit, emission, airflow, interzonal, room_volume, near_volume, start_near, start_far)
    c, *pair = np.broadcast_arrays(*map(number, given))
    g, q, beta, v, vn, near0, far0 = pair

    start = far0 if far else near0
    with np.errstate(all="ignore"):
        vf = v - vn
        to_near, to_far, leaving = beta / vn, beta / vf, (beta + q) / vf
        root = np.sqrt((to_near - leaving) ** 2 + 4 * to_near * to_far)
        r2 = -(to_near + leaving + root) / 2
        # What each rises by at the start.
        up_near = to_near * (far0 - near0) + g / vn
        up_far = to_far * near0 - leaving * far0
        up, other = (up_far, to_far * up_near) if far else (up_near, to_near * up_far)
        own = leaving if far else to_near
        p = (up * (-own - r2) + other) / root
        turns = np.log(-(up - p) / p) / root
        turns = np.where(turns > 0, np.minimum(turns, LONGEST), 0.0)
        peaks = (turns > 0) & (up > 0)
        rises = (p > 0) & ~peaks
        low = np.where(peaks, 0.0, turns)
        high = np.where(peaks, turns, LONGEST)
        reached = np.where(peaks | rises, two_zone_rise(high, *pair)[far] >= c, False)
        # Halved is only what is on its way there, and until nothing moves any more.
        sought = reached & ~(start >= c)
        few, edge = _Pair(*(each[sought] for each in pair)), c[sought]
        field = few.far if far else few.near
        before, after = low[sought], high[sought]
        for _ in range(HALVINGS):
            if not (before < after * (1 - np.finfo(float).eps)).any():
                break
            middle = np.where(before > 0, np.sqrt(before * after), after * STEP)
            there = field(middle) >= edge
            before, after = np.where(there, before, middle), np.where(there, middle, after)
        high[sought] = after
    return keep_nan(np.where(start >= c, 0.0, np.where(reached, high, np.inf)), c, *pair)


Modes = tuple[FloatArray, FloatArray]


class _Pair:
    """The two fields of `two_zone_rise` with all that does not change with time."""

    def __init__(
        self,
        emission: ArrayLike,
        airflow: ArrayLike,
        interzonal: ArrayLike,
        room_volume: ArrayLike,
        near_volume: ArrayLike,
        start_near: ArrayLike,
        start_far: ArrayLike,
    ) -> None:
        g, q, beta, vn = (number(x) for x in (emission, airflow, interzonal, near_volume))
        vf = number(room_volume) - vn
        self.to_near, self.to_far, self.leaving = beta / vn, beta / vf, (beta + q) / vf
        root = np.sqrt((self.to_near - self.leaving) ** 2 + 4 * self.to_near * self.to_far)
        self.r2 = -(self.to_near + self.leaving + root) / 2
        self.r1 = self.to_near * q / vf / self.r2
        self.near0, self.far0, self.filling = number(start_near), number(start_far), g / vn
        self.apart = self.r1 - self.r2
        self.own_near, self.own_far = (
            (-rate - self.r2, -rate - self.r1) for rate in (self.to_near, self.leaving)
        )

    def near(self, time: FloatArray) -> FloatArray:
        """In the near field after a time."""
        e, s = self._modes(time)
        return number(
            self._own(self.own_near, *e) * self.near0
            + self.to_near * self._across(*e) * self.far0
            + self._own(self.own_near, *s) * self.filling
        )

    def far(self, time: FloatArray) -> FloatArray:
        """In the far field after a time."""
        e, s = self._modes(time)
        return number(
            self.to_far * self._across(*e) * self.near0
            + self._own(self.own_far, *e) * self.far0
            + self.to_far * self._across(*s) * self.filling
        )

    def _modes(self, time: FloatArray) -> tuple[Modes, Modes]:
        """e_i and s_i of the two roots."""
        grown = np.exp(self.r1 * time), np.exp(self.r2 * time)
        return grown, (_span(self.r1, time), _span(self.r2, time))

    def _own(self, less: Modes, one: FloatArray, two: FloatArray) -> FloatArray:
        """What a field has of itself; `less` is the rate at which it loses, less each root."""
        return number((one * less[0] - two * less[1]) / self.apart)

    def _across(self, one: FloatArray, two: FloatArray) -> FloatArray:
        """What it has of the other, over the rate at which that comes."""
        return number((one - two) / self.apart)


def _span(rate: FloatArray, time: FloatArray) -> FloatArray:
    """Integral of exp(rate t) from 0 to t, which is t where the rate is zero."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(rate == 0, time, np.expm1(rate * time) / rate))


def additive_index(concentrations: Stack, limits: Stack) -> FloatArray:
    """Additive exposure index of substances that act alike, dimensionless; above 1 exceeds.

    E = sum_i C_i / L_i

    concentrations (S, ...), limits (S,) or (S, ...) in the same unit. Result (...), 0 if none.

    >>> f"{additive_index([500.0, 45.0, 40.0], [1000.0, 200.0, 200.0]):.3f}"
    '0.925'

    Source: [1] 29 CFR 1910.1000(d)(2)(i).
    """
    c, limit = matching(concentrations, limits)
    with np.errstate(divide="ignore", invalid="ignore"):
        return number((c / limit).sum(axis=0))[()]
