"""Does it stand: tipping of a body on its feet, bending of a rod clamped at one end."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, number


def tipping_angle(half_width: ArrayLike, height: ArrayLike) -> FloatArray:
    """Tilt at which a body topples over one edge of its base, rad.

    angle = atan(b / h)

    half_width b m, level distance from the centre of mass to the tipping edge (negative: it
    topples by itself); height h m of the centre of mass; any shapes that broadcast.
    Valid: rigid body, feet that do not slide.

    >>> f"{np.degrees(tipping_angle(0.1, 0.4)):.2f}"
    '14.04'

    Source: [1] statics.
    """
    return np.arctan2(number(half_width), number(height))


def tip_force(weight: ArrayLike, half_width: ArrayLike, push_height: ArrayLike) -> FloatArray:
    """Level push that lifts a body off its far feet, N.

    F = W b / H, not below zero

    weight W N; half_width b m from the centre of mass to the tipping edge; push_height H m where
    the push acts; any shapes that broadcast. Valid: feet that do not slide.

    >>> f"{tip_force(60.0, 0.1, 0.6):.1f}"
    '10.0'

    Source: [1] statics, moments about the tipping edge.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.maximum(number(weight) * number(half_width) / number(push_height), 0.0)


def cantilever_deflection(
    force: ArrayLike, length: ArrayLike, diameter: ArrayLike, youngs_modulus: ArrayLike
) -> FloatArray:
    """Deflection at the loaded end of a solid round rod held at the other, m.

    w = F L^3 / (3 E I), I = pi d^4 / 64

    force F N across the rod; length L m; diameter d m; youngs_modulus E Pa; any shapes that
    broadcast. Valid: elastic, small deflection, rigid hold, own weight not counted.

    >>> f"{cantilever_deflection(10.0, 0.3, 0.012, 193e9) * 1e3:.3f}"
    '0.458'

    Source: [1] Roark's Formulas for Stress and Strain, cantilever with end load.
    """
    second_moment = np.pi * number(diameter) ** 4 / 64
    load = number(force) * number(length) ** 3
    return number(load / (3 * number(youngs_modulus) * second_moment))


def cantilever_stress(force: ArrayLike, length: ArrayLike, diameter: ArrayLike) -> FloatArray:
    """Bending stress of a solid round rod where it is held, Pa.

    s = 32 F L / (pi d^3)

    force F N across the rod's end; length L m; diameter d m; any shapes that broadcast.
    Valid: elastic, own weight not counted.

    >>> f"{cantilever_stress(10.0, 0.3, 0.012) / 1e6:.2f}"
    '17.68'

    Source: [1] Roark's Formulas for Stress and Strain, cantilever with end load.
    """
    return number(32 * number(force) * number(length) / (np.pi * number(diameter) ** 3))
