"""Cold items: what condenses fills or plugs them, and bursts them once they warm."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from review import (
    Computation,
    FloatArray,
    Input,
    Kind,
    Measure,
    Method,
    Place,
    Quantity,
    Setup,
    Substance,
    vapour_pressure,
)
from review.physics.gas import R
from review.physics.liquids import flash_vapour, saturated_liquid_density

from ..shared.rating import rating
from ..shared.relief import opens

#: Molar volume of a liquid or solid whose density nobody knows, m3/mol: that of a light solvent.
UNKNOWN_VOLUME = 1e-4
#: A liquefied gas may be so much less dense than estimated (the method's own comparison, 8 %).
DENSER = 1.1
#: Temperature below which air condenses whole at 1 atm, K: its dew point is 81.7 K.
AIR_CONDENSES = 82.0
#: An ice plug as long as so many bores stops the flow (a judgement, no source).
PLUG_LENGTH = 3.0
FILL = Method(
    id="pressure.trap_fill",
    title="What condenses in a cold item as a share of the room for it",
    result="share filled",
    unit="1",
    formula="max(liquid / V, solid / plug)",
    inputs=(
        Input("liquid", "V_l", "m3", "volume that has condensed by the end of the step"),
        Input("solid", "V_s", "m3", "part of it that is solid at that temperature"),
        Input("V", "V", "m3", "gas volume of the item"),
        Input("plug", "V_p", "m3", "volume of a plug of three bores' length"),
    ),
    function=lambda liquid, solid, V, plug: np.maximum(liquid / V, solid / plug),
    source="balance; all above saturation condenses, air whole at 82 K or below",
    validity="one ideal liquid; solid collects in the narrowest bore at the inlet",
)
WARMED = Method(
    id="pressure.trap_warmed",
    title="Pressure of what has condensed, shut in and warmed, as a share of what the item holds",
    result="share of the rating",
    unit="1",
    formula="where(gas > 0, gas * R * T / V / rating, 0)",
    inputs=(
        Input("gas", "n", "mol", "what has condensed and is a gas at room temperature"),
        Input("R", "R", "J/(mol K)", "gas constant"),
        Input("T", "T", "K", "temperature of the room"),
        Input("V", "V", "m3", "gas volume of the item"),
        Input("rating", "rating", "Pa", "gauge pressure the item holds"),
    ),
    function=lambda gas, R, T, V, rating: np.where(gas > 0, gas * R * T / V / rating, 0.0),
    compares=lambda gas, R, T, V, rating: (gas * R * T / V, rating),
    compared_in=("Pa", "bar"),
    source="n R T / V; the gas that was there before takes up the room's pressure",
    validity="ideal gas; the item's outlet is shut or plugged while it warms; what stays liquid "
    "in the room adds its vapour pressure, less than an atmosphere",
)
COLD_GAS = Method(
    id="pressure.cold_gas_warmed",
    title="Gas shut in cold and warmed, over what the item holds",
    result="share of the rating",
    unit="1",
    formula="max(min(p * T / T_cold, opens) - p0, 0) / rating",
    inputs=(
        Input("p", "p", "Pa", "absolute pressure while it is cold"),
        Input("T", "T", "K", "temperature of the room"),
        Input("T_cold", "T_c", "K", "temperature while it is cold"),
        Input("opens", "p_r", "Pa", "absolute pressure at which its relief opens"),
        Input("p0", "p0", "Pa", "pressure of the room"),
        Input("rating", "rating", "Pa", "gauge pressure the item holds"),
    ),
    function=lambda p, T, T_cold, opens, p0, rating: (
        np.maximum(np.minimum(p * T / T_cold, opens) - p0, 0.0) / rating
    ),
    source="Gay-Lussac's law",
    validity="ideal gas, all of it as cold as the surface; a plug shuts it in while it is cold and "
    "stays when it warms; what it holds as liquid is not counted here",
)
def _kind(method: Method, worse: str, display: str, moves: dict[str, str]) -> Kind:
    return Kind(
        id=method.id, title=method.title, worse="lower" if worse == "lower" else "higher",
        unit=method.unit, display=display, method=method.id, source=method.source,
        validity=method.validity,
        moves={path: "up" if way == "up" else "down" for path, way in moves.items()},
    )  # fmt: skip


FILL_KIND = _kind(FILL, "higher", "%", {"flows.*.rate": "up", "train.*.gas_volume": "down"})
WARMED_KIND = _kind(
    WARMED, "higher", "%",
    {"flows.*.rate": "up", "train.*.gas_volume": "down", "train.*.rating": "down"},
)  # fmt: skip
COLD_GAS_KIND = _kind(COLD_GAS, "higher", "%", {"train.*.rating": "down"})


@dataclass(frozen=True)
class Condensed:
    """What a cold item has taken out by the end of each step, (trials,)."""

    liquid: FloatArray
    solid: FloatArray
    gas: FloatArray
    names: tuple[str, ...]


def _compute(setup: Setup) -> Iterable[Measure]:
    ambient = setup.number("ambient.temperature")
    constant = setup.quantity(R, "gas constant", "J/(mol K)", "SI 2019, exact")
    cold = [p for p in setup.places if not p.is_end and not np.isnan(p.cold).all()]
    for place in cold:
        got = _condensed(setup, place)
        what = ", ".join(got.names) or "nothing"

        def amount(value: FloatArray, name: str, unit: str, what: str = what) -> Quantity:
            return setup.quantity(value, f"{what}: {name}", unit, "balance of the train")

        plug = np.pi / 4 * _bore(setup, place) ** 3 * PLUG_LENGTH
        yield setup.measure(
            FILL_KIND,
            FILL(
                liquid=amount(got.liquid, "condensed", "m3"),
                solid=amount(got.solid, "solid", "m3"),
                V=place.volume,
                plug=setup.quantity(plug, "room for a plug", "m3", "narrowest bore"),
            ),
            place.id,
            note=f"condenses: {what}",
        )
        holds = rating(setup, place)
        share = WARMED(
            gas=amount(got.gas, "condensed gas", "mol"), R=constant, T=ambient, V=place.volume,
            rating=holds,
        )  # fmt: skip
        none = got.gas <= 0
        status = np.where(none, setup.engine_status, share.status)
        share = share.revised(np.where(none, 0.0, share.value), status)
        yield setup.measure(WARMED_KIND, share, place.id, note=f"condenses: {what}")
        if place.liquid:
            continue  # the gas over it need not be as cold, and its vapour tells more
        gas = COLD_GAS(
            p=place.pressure, T=ambient, T_cold=_gas_temperature(setup, place),
            opens=_relief(setup, place), p0=setup.number("ambient.pressure"),
            rating=rating(setup, place, joint=not opens(setup, place)),  # it is lifted first
        )  # fmt: skip
        yield setup.measure(COLD_GAS_KIND, gas, place.id)
    why = "nothing is colder than the room"
    nothing = setup.quantity(0.0, "share", "1", why)
    if not cold:
        yield setup.measure(FILL_KIND, nothing, "train", note=why)
        yield setup.measure(WARMED_KIND, nothing, "train", note=why)
    if all(place.liquid for place in cold):
        why = f"{why} but liquids" if cold else why
        yield setup.measure(COLD_GAS_KIND, nothing, "train", note=why)


def _gas_temperature(setup: Setup, place: Place) -> Quantity:
    """Of the gas while it is cold, K, else the room's."""
    room = setup.number("ambient.temperature").value
    gas = np.where(np.isnan(place.cold), room, place.cold)
    return setup.quantity(gas, f"gas in {place.id} while it is cold", "K", "bath or as stated")


def _relief(setup: Setup, place: Place) -> Quantity:
    """Absolute pressure at which the item's own relief opens, Pa; infinite without one."""
    opens = place.number("relief.opens_at").value
    value = np.where(np.isnan(opens), np.inf, opens)
    return setup.quantity(value, f"relief of {place.id}", "Pa", "scenario")


def _bore(setup: Setup, place: Place) -> FloatArray:
    """Narrowest bore at or before the item, m: where what freezes collects first."""
    near = [place, *(setup.places[j] for j in place.upstream)]
    bores = [p.number(name).value for p in near for name in ("inner_diameter", "dip_tube_bore")]
    narrow = np.fmin.reduce(bores)
    ball = np.cbrt(6 * place.volume.value / np.pi)
    return np.asarray(np.where(np.isnan(narrow), ball / 4, narrow))


def _condensed(setup: Setup, place: Place) -> Condensed:
    """All above saturation at the cold surface, added up from step to step."""
    pressure = place.pressure.value
    cold = np.where(np.isnan(place.cold), np.inf, place.cold)
    flow = _arriving(setup, place)
    total = flow.sum(axis=0)
    share = flow / np.where(total > 0, total, 1.0)
    ratios = np.array([_ratio(s, cold, pressure) for s in setup.species])
    vapour = flash_vapour(share, ratios)
    part = np.where(np.isinf(ratios), 0.0, (1 - vapour) / (1 + vapour * (ratios - 1)))
    part = np.where(vapour >= 1, 0.0, np.nan_to_num(part, nan=1.0))
    part = np.where((cold <= AIR_CONDENSES) & (_airy(setup, share) > 0), 1.0, part)
    moles = _added_up(setup, flow * part)
    room = setup.number("ambient.temperature").value
    volume, solid = np.zeros(setup.trials), np.zeros(setup.trials)
    gas = np.zeros(setup.trials)
    names = []
    for row, substance in enumerate(setup.species):
        if (moles[row] <= 0).all():
            continue
        names.append(substance.name)
        each = moles[row] * _molar_volume(substance)
        volume += each
        solid += np.where(cold < substance.number("melting_point"), each, 0.0)
        stays = substance.number("boiling_point") > room
        gas += np.where(stays, 0.0, moles[row])
    return Condensed(volume, solid, gas, tuple(names))


def _arriving(setup: Setup, place: Place) -> FloatArray:
    """What comes to an item, (species, trials), mol/s: what its neighbours let out, all of it."""
    before = place.upstream
    rates = [setup.places[j].flow.value for j in before]
    total = np.maximum(place.came, sum(rates, np.zeros(setup.trials)))
    total = np.where(place.moving > 0, np.nan_to_num(total), 0.0)
    flow = place.composition("inlet") * total
    # What it holds as liquid boils off from here and does not come here to condense.
    own = [setup.rows[n] for n in place.liquid if n in setup.rows]
    flow[own] = 0.0
    return np.asarray(flow)


def _ratio(substance: Substance, cold: FloatArray, pressure: FloatArray) -> FloatArray:
    """Saturation pressure over pressure; 0 below its curve, infinite for what stays a gas."""
    curve = substance.curve("vapour_pressure")
    if curve.state == "known":
        own, _ = vapour_pressure(substance, np.clip(cold, curve.low, curve.high))
        own = np.where(cold < curve.low, 0.0, np.where(cold > curve.high, np.inf, own))
    else:
        boils = substance.number("boiling_point")
        own = np.where(cold > boils, np.inf, 0.0)
    # A solid that turns to gas below its curve's start: all of it once it is colder than that.
    return np.asarray(np.where(np.isnan(own), 0.0, own) / pressure)


def _airy(setup: Setup, share: FloatArray) -> FloatArray:
    """1 where oxygen comes with nitrogen, which then condenses with it."""
    index = setup.rows
    both = np.minimum(share[index["oxygen"]], share[index["nitrogen"]]) > 0
    air = [index["oxygen"], index["nitrogen"]]
    mask = np.zeros(share.shape)
    mask[air] = both
    return mask


def _added_up(setup: Setup, rate: FloatArray) -> FloatArray:
    """Moles by the end of each step, the steps before it included; the stated plan by itself."""
    cells, runs = setup.shape
    out = np.zeros(rate.shape)
    so_far = np.zeros((rate.shape[0], runs))
    for cell in range(cells):
        of = slice(cell * runs, (cell + 1) * runs)
        lasts = np.nan_to_num(setup.duration(cell), nan=8 * 3600.0)
        each = rate[:, of] * lasts
        if cell == 0:
            out[:, of] = each
            continue
        so_far = so_far + each
        out[:, of] = so_far
    return out


def _molar_volume(substance: Substance) -> float:
    """Of the liquid, m3/mol."""
    density = substance.number("liquid_density")
    if np.isnan(density):
        density = float(
            saturated_liquid_density(
                substance.number("boiling_point"), substance.molar_mass,
                substance.number("critical_temperature"), substance.number("critical_pressure"),
            )
        )  # fmt: skip
        density /= DENSER
    return UNKNOWN_VOLUME if np.isnan(density) else substance.molar_mass / density


COLD = Computation(kinds=(FILL_KIND, WARMED_KIND, COLD_GAS_KIND), compute=_compute)
