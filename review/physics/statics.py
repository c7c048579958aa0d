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
