"""Which scenario numbers move the pressure measures one way only, and which way.

`*` stands for any name. A number that can move a measure either way is left out: a wider tube
costs less pressure and holds more gas, but its wall holds less.
"""

from __future__ import annotations

from typing import Literal

Ways = dict[str, Literal["up", "down"]]

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
HOTTER: Ways = {
    "heat.*.set_temperature": "up",
    "heat.*.hottest": "up",
    "procedure.*.heat.*": "up",
    "train.*.heated_length": "up",
}
WORKING: Ways = {
    **MORE_GAS,
    **HOTTER,
    "flows.*.shut_off_pressure": "up",
    "heat.*.cooling_time": "up",
    "reagents.*.held.regulator": "up",
    "train.*.absorbs.*.capacity": "down",
    "train.*.absorbs.*.efficiency": "down",
    "train.*.bath_temperature": "up",
    "train.*.dip_depth": "up",
    "train.*.dip_tube_bore": "down",
    "train.*.flat_end_thickness": "down",
    "train.*.joint_rating": "down",
    "train.*.packing.fibre_diameter": "down",
    "train.*.packing.length": "up",
    "train.*.packing.particle_diameter": "down",
    "train.*.packing.voidage": "down",
    "train.*.rating": "down",
    # A thicker wall also carries a little heat to the next line, far less than it holds.
    "train.*.wall": "down",
}


def opposite(ways: Ways) -> Ways:
    """The same numbers, moving the other way.

    >>> opposite({"flows.*.rate": "up"})
    {'flows.*.rate': 'down'}
    """
    return {path: "down" if way == "up" else "up" for path, way in ways.items()}


PLUGGED: Ways = {**opposite(WORKING), "train.*.gas_volume": "up"}
#: How fast it cools counts both ways: before the flow stops and after it.
SUCKED_BACK: Ways = {
    **MORE_GAS,
    **HOTTER,
    "ambient.pressure": "up",
    "train.*.dip_depth": "down",
    "train.*.gas_volume": "down",
    "train.*.lift": "down",
    "train.*.liquid_volume": "up",
}
