"""What a whole cylinder or cold vessel holds, and what it makes of the room if let go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from review import FloatArray, Input, Method, Quantity, Setup, vapour_pressure
from review.physics.gas import R
from review.physics.liquids import expansion_ratio, saturated_liquid_density

#: Share of its vapour pressure above which a gas in a cylinder may stand over its own liquid.
NEARLY_LIQUID = 0.9
#: Least share of a mixture that stays gas from which the others' amount follows from the pressure.
MOSTLY_GAS = 0.5

FULLER: Mapping[str, Literal["up", "down"]] = {
    "reagents.*.held.pressure": "up",
    "reagents.*.held.volume": "up",
    "ventilation.room_volume": "down",
}

CONTENT = Method(
    id="exposure.cylinder_content",
    title="Gas a cylinder lets out",
    result="gas in the cylinder",
    unit="m3",
    formula="V * p / p0",
    inputs=(
        Input("V", "V", "m3", "volume of the cylinder"),
        Input("p", "p", "Pa", "absolute pressure in it"),
        Input("p0", "p0", "Pa", "pressure of the room"),
    ),
    function=lambda V, p, p0: V * p / p0,
    source="Boyle's law",
    validity="not where the gas stands over its own liquid; the residue that stays is counted too",
)
SHARE = Method(
    id="exposure.cylinder_share",
    title="Share of the room's air that a whole cylinder displaces",
    result="share of the room",
    unit="1",
    formula="min(v / V, 1)",
    inputs=(
        Input("v", "v", "m3", "gas the cylinder lets out"),
        Input("V", "V", "m3", "volume of the room"),
    ),
    function=lambda v, V: np.where(np.isnan(v / V), np.nan, np.minimum(v / V, 1.0)),
    source="the gas pushes out as much air, and then mixes",
    validity="no ventilation; beside the cylinder, and low down or high up, it is worse",
)


def stores(setup: Setup) -> Iterator[tuple[str, str, Quantity, str]]:
    """Each reagent in a cylinder or cold vessel: its place, its share of the room, what lacks."""
    volume = setup.number("ventilation.room_volume")
    room = Quantity.of(volume.value, name="room volume", unit="m3", source=volume.source)
    for name, reagent in setup.scenario.reagents.items():
        cold = _boils_in_the_room(setup, name)
        other = reagent.held is not None and reagent.held.as_ != "cylinder"
        if not cold and (reagent.state != "gas" or other):
            continue
        content, why = _content(setup, name)
        yield name, store_of(setup, name), SHARE(v=content, V=room), why


def store_of(setup: Setup, reagent: str) -> str:
    """What a reagent is kept in, as a place."""
    cold = setup.scenario.reagents[reagent].state != "gas"
    return f"{'vessel' if cold else 'cylinder'} of {reagent}"


def _boils_in_the_room(setup: Setup, reagent: str) -> bool:
    """Whether a liquid or solid is a gas at the room's temperature: a cryogen, dry ice."""
    room = setup.number("ambient.temperature").value.max()
    model = setup.scenario.reagents[reagent]
    boiling = sum(
        content_of(setup, reagent, text).value.max()
        for text in model.composition
        if setup.reference.substance(text).number("boiling_point") < room
    )
    return model.state != "gas" and boiling > MOSTLY_GAS


def bottled(setup: Setup, name: str, density: float) -> FloatArray:
    """What a bottle holds, kg; NaN where nobody says. The density (kg/m3) is for what is stated by
    volume; its hazardous side is the caller's."""
    amount = setup.scenario.reagents[name].amount
    weighed = amount is not None and amount.by == "mass"
    return np.asarray(setup.number(f"reagents.{name}.amount").value * (1.0 if weighed else density))


def let_go(setup: Setup) -> Iterator[tuple[str, str, Quantity]]:
    """Each reagent in a cylinder, each substance in it, and its content of the room if let go."""
    for name, _, share, _ in stores(setup):
        for text in setup.scenario.reagents[name].composition:
            own = content_of(setup, name, text)
            value = np.where(own.value == 0, 0.0, own.value * share.value)
            content = Quantity.of(
                value, np.where(np.isnan(value), 3, np.maximum(own.status, share.status)),
                name=f"{text} in the room", unit="mol/mol", source=SHARE.id,
            )  # fmt: skip
            yield name, setup.reference.substance(text).name, content


def content_of(setup: Setup, reagent: str, text: str) -> Quantity:
    """Mole fraction of a component; a mixture stated by mass is turned into moles."""
    model = setup.scenario.reagents[reagent]
    shares = {
        t: setup.number(f"reagents.{reagent}.composition.{t}").value for t in model.composition
    }
    if model.basis == "mass":
        shares = {t: v / setup.reference.substance(t).molar_mass for t, v in shares.items()}
    total = np.sum(list(shares.values()), axis=0)
    return Quantity.of(
        shares[text] / total, name=f"{text} in {reagent}", unit="mol/mol", source="scenario"
    )


def _content(setup: Setup, reagent: str) -> tuple[Quantity, str]:
    """Volume of a cylinder's gas at room conditions, or why it is not known."""
    model = setup.scenario.reagents[reagent]
    path, ambient = f"reagents.{reagent}", setup.number("ambient.pressure")
    if model.amount is not None:
        moles = setup.number(f"{path}.amount").value
        if model.amount.by == "mass":
            masses = sum(
                content_of(setup, reagent, t).value * setup.reference.substance(t).molar_mass
                for t in model.composition
            )
            moles = moles / masses
        temperature = setup.number("ambient.temperature").value
        if model.amount.by == "volume" and model.state != "gas":
            known = moles * _expands(setup, reagent)
            return Quantity.of(known, name="gas in it", unit="m3", source="stated amount"), ""
        known = moles if model.amount.by == "volume" else moles * R * temperature / ambient.value
        return Quantity.of(known, name="gas in the cylinder", unit="m3", source="stated amount"), ""
    held = model.held
    if model.state != "gas":
        why = f"the amount of {reagent} is not given"
        return Quantity.missing("gas in it", "m3", why=why), why
    if held is None or held.volume is None or held.pressure is None:
        why = f"the volume and pressure of {reagent}'s cylinder are not given"
        return Quantity.missing("gas in the cylinder", "m3", why=why), why
    content = CONTENT(
        V=_named(setup, f"{path}.held.volume", "volume of the cylinder", "m3"),
        p=_named(setup, f"{path}.held.pressure", "pressure in the cylinder", "Pa"),
        p0=_named(setup, "ambient.pressure", "pressure of the room", "Pa"),
    )
    liquid, where = _liquefied(setup, reagent)
    if not liquid:
        return content, ""
    # The gas that stays gas takes at least its own share of the pressure, and the mixture is as
    # stated: what has turned liquid beside it can be no more than its share of the whole.
    shares = [content_of(setup, reagent, text).value for text in liquid]
    rest = 1 - np.sum(shares, axis=0)
    if ~(rest < MOSTLY_GAS).any():
        most = np.where(where, content.value / rest, content.value)
        return content.revised(most, content.status), ""
    # It holds no more than if it were full of the liquid.
    full = setup.number(f"{path}.held.volume").value * _expands(setup, reagent)
    why = f"{' or '.join(liquid)} may be liquid in its cylinder: counted as full, amount not stated"
    return Quantity.of(
        np.where(where, np.where(full <= content.value, content.value, full), content.value),
        content.status, name=content.name, unit="m3", source=why,
    ), why  # fmt: skip


def _expands(setup: Setup, reagent: str) -> FloatArray:
    """Gas that a volume of a liquefied gas makes in the room, the most of its components."""
    out = np.zeros(setup.trials)
    temperature = setup.number("ambient.temperature").value
    pressure = setup.number("ambient.pressure").value
    for text in setup.scenario.reagents[reagent].composition:
        substance = setup.reference.substance(text)
        dense = substance.number("liquid_density")
        if np.isnan(dense):
            dense = float(
                saturated_liquid_density(
                    substance.number("boiling_point"), substance.molar_mass,
                    substance.number("critical_temperature"),
                    substance.number("critical_pressure"),
                )
            )  # fmt: skip
        out = np.maximum(
            out, expansion_ratio(dense, substance.molar_mass, temperature, pressure)
        )
    return out


def _liquefied(setup: Setup, reagent: str) -> tuple[list[str], NDArray[np.bool_]]:
    """Components that may stand over its own liquid at room temperature, and in which trials."""
    temperature = setup.number("ambient.temperature").value
    held = setup.number(f"reagents.{reagent}.held.pressure").value
    where, names = np.zeros(setup.trials, dtype=bool), []
    for text in setup.scenario.reagents[reagent].composition:
        substance = setup.reference.substance(text)
        critical = substance.datum("critical_temperature").value
        share = content_of(setup, reagent, text).value
        pressure, inside = vapour_pressure(substance, temperature)
        liquid = ~(share <= 0) & ~(inside & (share * held <= NEARLY_LIQUID * pressure))
        if critical is not None:
            liquid &= ~(critical < temperature)
        if liquid.any():
            names.append(text)
        where |= liquid
    return names, where


def _named(setup: Setup, path: str, name: str, unit: str) -> Quantity:
    number = setup.number(path)
    return Quantity.of(number.value, number.status, name=name, unit=unit, source=number.source)
