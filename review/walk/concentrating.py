"""How hot a mixture gets whose light part boils away: its boiling point climbs to the heavy part's.

The balance keeps what boils at the boiling point of the mixture as it was filled in. Heat that can
drive the light part out leaves the heavy one, and the wall is then as hot as that boils, or as what
heats it: 70 % sulfuric acid, boiled down, ends above 300 degC. What is dissolved in water holds it
back from the start (`elevation`).
"""

from __future__ import annotations

import numpy as np

from review.interface.measure import FloatArray
from review.physics import liquids as physics
from review.reference.finding import Substance
from review.walk.elevation import solution_boils
from review.walk.state import Moment

#: What has less of the mass than this is a residue that boils dry, and no liquid of its own.
LITTLE = 0.05
#: Boiling points no further apart than this, K, do not part.
CLOSE = 5.0
#: What nobody knows the boiling point of is as hot as what heats it, K.
HOTTEST = 2000.0


def climbs_to(
    at: Moment, i: int, point: FloatArray, heat: FloatArray, loses: FloatArray, held: FloatArray
) -> FloatArray:
    """The boiling point that a held mixture can reach by the end of the step, (runs,), K.

    ``T = T0 + f (T_heavy - T0)``, f the heat given by now over the light part's heat of
    vaporisation. An acid's boiling point climbs late, so the chord is not too cold for it.

    point T0, the boiling point as it was filled in, K; heat W, NaN where nobody says, and
    all that is light goes; loses, the share of the vapour that does not run back; held what was
    filled in, (species, runs), mol.
    Solutions in water: no less than `solution_boils` says, at room pressure or below.

    >>> f"{physics.heat_of_vaporisation(373.12, 647.1, 22.064e6, 373.12) / 0.018015:.2g}"
    '2.3e+06'

    Source: [1] the doctest: water, 2.256 MJ/kg (IAPWS-95), which the light part takes.
    """
    parts = _parts(at, i)
    points = {s.name: float(np.nan_to_num(s.number("boiling_point"), nan=HOTTEST)) for s in parts}
    heaviest = max(points.values(), default=0.0)
    dissolved = _masses(at, i)
    light = [s for s in parts if points[s.name] < heaviest - CLOSE or len(parts) == 1]
    most, left = np.zeros_like(point), np.zeros_like(point)
    for substance in light:
        row = at.resolved.index[substance.name]
        each = _takes(substance)
        most = most + each * held[row]
        left = left + each * at.state.left[i][row]
    lasts = np.where(np.isnan(at.duration), np.inf, at.duration)
    given = np.where(np.isnan(heat), np.inf, heat) * loses * lasts
    given = np.where((loses <= 0) | (lasts <= 0), 0.0, given)
    gone = np.clip(1 - (left - given) / most, 0.0, 1.0)
    gone = np.where(np.isnan(gone), 1.0, gone)
    climbs = np.where(point < heaviest, point + gone * (heaviest - point), point)
    return np.maximum(climbs if len(parts) > 1 else point, solution_boils(dissolved, gone))


def _masses(at: Moment, i: int) -> list[tuple[Substance, float]]:
    """Each component of a held liquid, dissolved solids too, with its mass fraction."""
    liquid = at.resolved.liquids.get(at.resolved.graph.ids[i], {})
    found = [(at.resolved.reference.substance(name), x) for name, x in liquid.items()]
    mass = sum(s.molar_mass * x for s, x in found)
    return [(s, s.molar_mass * x / mass) for s, x in found]


def _parts(at: Moment, i: int) -> list[Substance]:
    """The liquids of a mixture that are more than a residue, and what is gas by itself."""
    return [
        s
        for s, share in _masses(at, i)
        if s.phase_at_20C != "solid" and s.name in at.resolved.index and not share < LITTLE
    ]


def _takes(substance: Substance) -> float:
    """Heat that drives it out, J/mol; none of what is gas by itself or has no figures."""
    boils, critical, pressure = (
        substance.number(f) for f in ("boiling_point", "critical_temperature", "critical_pressure")
    )
    known = float(physics.heat_of_vaporisation(boils, critical, pressure, boils))
    return known if substance.phase_at_20C == "liquid" and known > 0 else 0.0
