"""Pictures of a review, drawn from its measures; each only where the check behind it ran.

Needs matplotlib (`benchgate[page]`), which nothing else imports.
"""

from __future__ import annotations

from review.interface.result import Review
from review.interface.setup import Setup
from review.render.picture import Picture
from review.render.pictures import gas, heat, limits, stand

#: In the order in which they stand on the page.
_DRAWN = (gas.train, gas.envelope, limits.room, limits.plug, heat.temperatures, heat.tube,
          stand.frame, gas.procedure)  # fmt: skip


def pictures(review: Review, setup: Setup) -> tuple[Picture, ...]:
    """All pictures that this review has the measures for. `setup` is its plan, walked alone."""
    drawn = (draw(review, setup) for draw in _DRAWN)
    return tuple(picture for picture in drawn if picture is not None)
