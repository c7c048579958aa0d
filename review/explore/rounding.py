"""Numbers for a person: few digits, rounded to the side that was found good."""

from __future__ import annotations

import math


def rounded(good: float, bad: float, most: int = 4, least: int = 2) -> float:
    """`good` with as few digits as keep it on its side of `bad`, and rounded away from it.

    >>> rounded(0.01234, 0.02), rounded(571.3, 560.0), rounded(0.00271, 0.0027)
    (0.012, 580.0, 0.0028)
    """
    if good == 0 or good == bad:
        return good
    for digits in range(least, most + 1):
        scale = 10.0 ** (math.floor(math.log10(abs(good))) - digits + 1)
        parts = round(good / scale, 9)
        value = (math.floor(parts) if good < bad else math.ceil(parts)) * scale
        value = float(f"{value:.{digits + 2}g}")
        # Rounding may not cost more than it is away from what is bad.
        if value != 0 and abs(value - good) <= max(abs(good - bad), 0.05 * abs(good)):
            return value
    return good
