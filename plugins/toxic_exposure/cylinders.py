"""A whole cylinder or vessel let go into the room: what it poisons and displaces."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Quantity,
    Setup,
    vapour_pressure,
)
from review.physics.gas import R
from review.physics.liquids import expansion_ratio, saturated_liquid_density
from review.physics.room import displaced_oxygen

from .limits import limits_of
from .oxygen import AIR, LEAST, MOST

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
DISPLACED = Method(
    id="oxygen.whole_cylinder",
    title="Oxygen once a whole cylinder is in the room",
    result="oxygen in the room",
    unit="mol/mol",
    formula="0.2095 * (1 - s) + x * s",
    inputs=(
        Input("s", "s", "1", "share of the room's air displaced"),
        Input("x", "x", "mol/mol", "oxygen in the cylinder's gas"),
    ),
    function=lambda s, x: displaced_oxygen(s, x),
    source="balance of the room",
    validity="no ventilation, mixed; the air is pushed out before it mixes, which errs low",
)
LET_GO = Method(
    id="exposure.whole_cylinder_ratio",
    title="Content of the room once a whole cylinder is in it, over the IDLH",
    result="share of the IDLH",
    unit="1",
    formula="x * s / limit",
    inputs=(
        Input("x", "x", "mol/mol", "content of the cylinder's gas"),
        Input("s", "s", "1", "share of the room's air displaced"),
        Input("limit", "IDLH", "mol/mol", "content that endangers life"),
    ),
    function=lambda x, s, limit: x * s / limit,
    compares=lambda x, s, limit: (x * s, limit),
    compared_in=("mol/mol", "ppm"),
    source="balance of the room",
    validity=SHARE.validity,
)

CYLINDER_LOW_KIND = Kind.of(
    DISPLACED,
    "lower",
    "%",
    {path: "up" if way == "down" else "down" for path, way in FULLER.items()},
    id="oxygen.whole_cylinder_low",
    about=AIR,
)
CYLINDER_HIGH_KIND = Kind.of(
    DISPLACED,
    "higher",
    "%",
    FULLER,
    id="oxygen.whole_cylinder_high",
    about=AIR,
    title="Oxygen once a whole cylinder is in the room, against too much",
)
CYLINDER_KIND = Kind.of(
    LET_GO,
    "higher",
    "%",
    FULLER,
    title="A whole cylinder in the room as a share of the content that endangers life (IDLH)",
)


def _stores(setup: Setup) -> Iterator[tuple[str, str, Quantity, str]]:
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


def _cylinders(setup: Setup) -> Iterable[Measure]:
    toxic = found = False
    known = not np.isnan(setup.number("ventilation.room_volume").value).all()
    for name, at, share, why in _stores(setup):
        found, reagent = True, setup.scenario.reagents[name]
        note = "; ".join(filter(None, (why, "" if known else "no room volume given")))
        mixture = [(setup.reference.substance(text), text) for text in reagent.composition]
        for substance, text in mixture:
            limit = limits_of(setup, substance).known.get("idlh")
            if limit is None:
                continue
            toxic = True
            ratio = LET_GO(x=_content_of(setup, name, text), s=share, limit=limit)
            lost = limit.source if np.isnan(limit.value).all() else ""
            words = "; ".join(filter(None, (note, lost)))
            yield setup.measure(CYLINDER_KIND, ratio, at, substance.name, words)
        oxygen = next((t for s, t in mixture if s.name == "oxygen"), None)
        own = (
            Quantity.of(0.0, name="oxygen in the gas", unit="mol/mol", source="scenario")
            if oxygen is None
            else _content_of(setup, name, oxygen)
        )
        left = DISPLACED(s=share, x=own)
        yield setup.measure(CYLINDER_LOW_KIND, LEAST(x=left), at, note=note)
        yield setup.measure(CYLINDER_HIGH_KIND, MOST(x=left), at, note=note)
    if not found:
        why = "no gas is held in a cylinder, liquid or frozen"
        fresh = setup.quantity(AIR, "oxygen in the room", "mol/mol", why)
        yield setup.measure(CYLINDER_LOW_KIND, fresh, "room", note=why)
        yield setup.measure(CYLINDER_HIGH_KIND, fresh, "room", note=why)
    if not toxic:
        why = "no cylinder holds a gas with an IDLH"
        nothing = setup.quantity(0.0, "share of the IDLH", "1", why)
        yield setup.measure(CYLINDER_KIND, nothing, "room", note=why)


def _boils_in_the_room(setup: Setup, reagent: str) -> bool:
    """Whether a liquid or solid is a gas at the room's temperature: a cryogen, dry ice."""
    room = setup.number("ambient.temperature").value.max()
    model = setup.scenario.reagents[reagent]
    boiling = sum(
        _content_of(setup, reagent, text).value.max()
        for text in model.composition
        if setup.reference.substance(text).number("boiling_point") < room
    )
    return model.state != "gas" and boiling > MOSTLY_GAS


def let_go(setup: Setup) -> Iterator[tuple[str, str, Quantity]]:
    """Each reagent in a cylinder, each substance in it, and its content of the room if let go."""
    for name, _, share, _ in _stores(setup):
        for text in setup.scenario.reagents[name].composition:
            own = _content_of(setup, name, text)
            value = np.where(own.value == 0, 0.0, own.value * share.value)
            content = Quantity.of(
                value, np.where(np.isnan(value), 3, np.maximum(own.status, share.status)),
                name=f"{text} in the room", unit="mol/mol", source=SHARE.id,
            )  # fmt: skip
            yield name, setup.reference.substance(text).name, content


def _content_of(setup: Setup, reagent: str, text: str) -> Quantity:
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
                _content_of(setup, reagent, t).value * setup.reference.substance(t).molar_mass
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
    shares = [_content_of(setup, reagent, text).value for text in liquid]
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
        share = _content_of(setup, reagent, text).value
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


CYLINDERS = Computation(
    kinds=(CYLINDER_LOW_KIND, CYLINDER_HIGH_KIND, CYLINDER_KIND), compute=_cylinders
)
