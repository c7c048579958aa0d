"""Which scenario numbers move the flammability measures one way only, and which way.

`*` stands for any name, `<fuel>` for a substance that burns, `<inert>` for one that is inert.
Each way holds at the stated settings and for one fuel beside one oxidiser; in a step the worst
mixture may lie elsewhere afterwards. A number that can move a measure either way is left out: the
rate of one flow is the dilution of another, and a longer step fills the train with air or fuel.
"""

from __future__ import annotations

from typing import Literal

Ways = dict[str, Literal["up", "down"]]

#: Limits widen with temperature.
HOTTER: Ways = {
    "heat.*.set_temperature": "up",
    "heat.*.hottest": "up",
    "procedure.*.heat.*": "up",
    "train.*.heated_length": "up",
}


def opposite(ways: Ways) -> Ways:
    """The same numbers, moving the other way.

    >>> opposite({"heat.*.hottest": "up"})
    {'heat.*.hottest': 'down'}
    """
    return {path: "down" if way == "up" else "up" for path, way in ways.items()}


FUEL: Ways = {**HOTTER, "reagents.*.composition.<fuel>": "up"}
AFTER_BURN: Ways = {"reagents.*.composition.<inert>": "down"}
OXYGEN: Ways = {
    **HOTTER,
    "reagents.*.composition.oxygen": "up",
    "reagents.*.composition.<inert>": "down",
}
#: At a given mixture; a hotter liquid gives off more vapour, which moves it down.
RICH: Ways = {**HOTTER, "train.*.packing.particle_diameter": "down"}
MARGIN: Ways = {**opposite(HOTTER), "reagents.*.composition.oxygen": "down"}
ALLOWANCE: Ways = OXYGEN
SURFACE: Ways = {
    **HOTTER,
    "catalysts.*.light_off": "down",
    "heat.*.cooling_time": "up",
    "reagents.*.composition.oxygen": "up",
}
OUTLET: Ways = {
    "reagents.*.composition.<fuel>": "up",
    "reagents.*.composition.<inert>": "down",
}
AIR: Ways = {
    "ambient.pressure": "down",
    "ambient.temperature": "up",
    "duration": "up",
    "reagents.*.composition.<fuel>": "up",
    "reagents.*.composition.<inert>": "down",
    "reagents.*.composition.oxygen": "down",
    "ventilation.air_changes": "down",
    "ventilation.hood.face_velocity": "down",
    "ventilation.hood.opening_height": "down",
    "ventilation.hood.opening_width": "down",
    "ventilation.mixing_factor": "up",
    "ventilation.room_volume": "down",
}
