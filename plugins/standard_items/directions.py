"""Which scenario numbers move the train's measures one way only, and which way.

`*` stands for any name. A number that can move a measure either way is left out: a longer line
holds more gas but also cools what comes after it.
"""

from __future__ import annotations

from typing import Literal

Ways = dict[str, Literal["up", "down"]]

#: What brings more gas in.
MORE_GAS: Ways = {
    "flows.*.rate": "up",
    "flows.*.at_most": "up",
    "flows.*.reference.pressure": "up",
    "flows.*.reference.temperature": "down",
    "flows.*.instrument.calibration_pressure": "up",
    "flows.*.instrument.calibration_temperature": "down",
    "flows.*.instrument.gas_pressure": "up",
    "flows.*.instrument.gas_temperature": "down",
    "procedure.*.flows.*": "up",
}
#: What makes the gas hotter in its own step; a source cools slowly after it.
HOTTER: Ways = {
    "heat.*.set_temperature": "up",
    "heat.*.hottest": "up",
    "heat.*.cooling_time": "up",
    "procedure.*.heat.*": "up",
    "train.*.heated_length": "up",
}
#: What the gas has to push through.
NARROWER: Ways = {
    "train.*.dip_depth": "up",
    "train.*.dip_tube_bore": "down",
    "train.*.packing.particle_diameter": "down",
    "train.*.packing.fibre_diameter": "down",
}
#: What lets less gas through.
TAKEN_UP: Ways = {
    "train.*.absorbs.*.efficiency": "down",
    "train.*.absorbs.*.capacity": "down",
}


def opposite(ways: Ways) -> Ways:
    """The same numbers, moving the other way.

    >>> opposite({"flows.*.rate": "up"})
    {'flows.*.rate': 'down'}
    """
    return {path: "down" if way == "up" else "up" for path, way in ways.items()}


TEMPERATURE: Ways = {
    **MORE_GAS,
    **HOTTER,
    "ambient.temperature": "up",
    "procedure.*.duration": "down",
    "train.*.length": "down",
}
GAS_TEMPERATURE: Ways = {**TEMPERATURE, "train.*.bath_temperature": "up"}
PRESSURE: Ways = {
    **MORE_GAS,
    **HOTTER,
    **NARROWER,
    **TAKEN_UP,
    "ambient.pressure": "up",
    "flows.*.shut_off_pressure": "up",
    "reagents.*.held.regulator": "up",
    "train.*.bath_temperature": "up",
    "train.*.inner_diameter": "down",
    "train.*.packing.length": "up",
    "train.*.packing.voidage": "down",
}
CONTACT_TIME: Ways = {
    **opposite(MORE_GAS),
    **NARROWER,
    "train.*.gas_volume": "up",
}
