"""A cold drop on hot glass: surface stress against what the glass bears."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike

from review import Computation, FloatArray, Input, Measure, Method, Place, Quantity, Setup

from ..shared.rating import scratched
from .sheet import HOTTER, figure, item_temperature, kind


def quench_stress(
    modulus: ArrayLike, expansion: ArrayLike, poisson: ArrayLike, hot: ArrayLike, cold: ArrayLike
) -> FloatArray:
    """Tensile stress of a surface that is suddenly colder than its body, Pa.

    sigma = E alpha (Th - Tc) / (1 - nu), zero where Tc is the warmer

    modulus E Pa; expansion alpha 1/K; poisson nu; hot Th, cold Tc K; any shapes that broadcast.
    Valid: elastic, infinitely fast chill of a thick wall: an upper bound.

    >>> f"{quench_stress(63e9, 3.3e-6, 0.2, 393.15, 293.15) / 1e6:.1f}"
    '26.0'

    Source: [1] Timoshenko & Goodier, Theory of Elasticity, thermal stress.
    """
    drop = np.maximum(np.asarray(hot, np.float64) - np.asarray(cold, np.float64), 0.0)
    strain = np.asarray(expansion) * drop
    return np.asarray(np.asarray(modulus) * strain / (1 - np.asarray(poisson)))


QUENCH = Method(
    id="heat.quench_stress_ratio",
    title="Stress of a cold splash in multiples of the glass's lasting strength",
    result="stress over lasting strength",
    unit="1",
    formula="where(T - Ta <= warm, 0, E * alpha * max(T - Ta, 0) / (1 - nu) / s)",
    inputs=(
        Input("E", "E", "Pa", "Young's modulus"),
        Input("alpha", "alpha", "1/K", "thermal expansion"),
        Input("nu", "nu", "1", "Poisson's ratio"),
        Input("T", "T", "K", "hottest it gets"),
        Input("Ta", "T_a", "K", "room, as cold as the splash"),
        Input("s", "s", "Pa", "stress allowed under lasting load; home-made or unknown: a share"),
        Input("warm", "warm", "K", "drop that any glass takes"),
    ),
    function=lambda E, alpha, nu, T, Ta, s, warm: np.where(
        np.asarray(T) - Ta <= warm, 0.0, quench_stress(E, alpha, nu, T, Ta) / s
    ),
    compares=lambda E, alpha, nu, T, Ta, s, warm: (
        np.maximum(T - Ta, 0), (1 - nu) * s / (E * alpha)
    ),
    compared_in=("K", "K"),
    source="surface held at the splash's temperature: E alpha dT / (1 - nu) (Timoshenko & Goodier)",
    validity="the sudden limit, an upper bound; glass that nobody says is not home-made counts so",
)
QUENCH_KIND = kind(QUENCH, "higher", "1", {**HOTTER, "ambient.temperature": "down"})


#: Warm water cracks no glass, K: window glass takes a drop of 40 K (makers' sheets, from memory).
WARM = 30.0
#: What drives a pump that no splash cracks unless it is hot: it has a housing, or is as cool as its
#: water.
COOL_PUMPS = ("motor", "water")
#: The stress allowed in a ceramic is a tenth of its bending strength (material files), in glass a
#: seventh, and glass loses half of its own under lasting load while ceramics lose little (from
#: memory): what breaks a ceramic is this much further from what is allowed in it.
CERAMIC = 3.0


def _strength(place: Place, splash: Quantity) -> Quantity:
    """That of unharmed parts only where the scenario says they are, else the share left to others.

    That share is a bound, not a guess about this part. The skin that is pulled is as cold as the
    splash. A ceramic stands against its own strength.
    """
    found = place.strength(splash.value)
    if place.material is not None and place.material.kind == "ceramic":
        return found.revised(CERAMIC * found.value)
    return found if place.model.home_made == "no" else found.revised(found.value)


def _compute(setup: Setup) -> Iterable[Measure]:
    ambient = setup.number("ambient.temperature")
    found = 0
    for place in setup.places:
        material = place.material
        if place.is_end or (material and material.kind not in ("glass", "ceramic")):
            continue
        cold = item_temperature(place).value <= ambient.value + WARM
        suction = place.model.suction
        if suction is not None and suction.drive in COOL_PUMPS and cold.all():
            continue
        found += 1
        if material is None:
            # A drop that any glass takes breaks nothing, whatever it is made of.
            unknown = Quantity.of(np.where(cold, 0.0, np.nan), name="stress", unit="1")
            note = "say what it is made of"
            yield setup.measure(QUENCH_KIND, unknown, place.id, "material not given", note)
            continue
        ratio = QUENCH(
            E=figure(material, "youngs_modulus", "Pa", place.id),
            alpha=figure(material, "expansion", "1/K", place.id),
            nu=figure(material, "poisson", "1", place.id),
            T=item_temperature(place),
            Ta=ambient,
            s=_strength(place, ambient),
            warm=setup.quantity(WARM, "any glass", "K", "window glass takes 40 K (from memory)"),
        )
        yield setup.measure(QUENCH_KIND, ratio, place.id, material.name, scratched(place))
    if not found:
        none = Quantity.of(0.0, name="stress", unit="1", source="no part is of glass or ceramic")
        yield setup.measure(QUENCH_KIND, none, "train", note="no part is of glass or ceramic")


STRESS = Computation(kinds=(QUENCH_KIND,), compute=_compute)
