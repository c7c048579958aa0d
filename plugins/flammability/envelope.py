"""The flammable envelope at every item and trial.

For each item the worst mixture on all its mixing lines is found; there the three ratios, the
signed margin and the share of the allowance are computed by methods that keep their working.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from review import Computation, FloatArray, Measure, Place, Quantity, Setup, vapour_pressure

from ..shared.dilute import Dilute
from ..shared.fuels import (
    GAS,
    LOW_LOC,
    LOWER_IN_NOBLE,
    LOWER_LIMIT,
    TRACE,
    UPPER_IN_NOBLE,
    UPPER_LIMIT,
    Limits,
    datum,
    limits_of,
)
from ..shared.names import AFTER_BURN_RISE, INERT_HIGH, INERT_LOW, LEAN_SHARE
from ..shared.relief import relieved
from .cold_train import (
    FIERCE_VOLUME,
    MOST_VOLUME,
    SCREENED_VOLUME,
    SMALL,
    SMALL_KIND,
    plain,
    small_train,
)
from .headspace import (
    BEYOND_KIND,
    ELSEWHERE_KIND,
    HEADSPACE,
    HEADSPACE_KIND,
    STILL_KIND,
    Rule,
    apart,
    cold_vapour,
    nowhere,
)
from .lines import Lines, lines_at
from .mixing import worst, worst_allowance, worst_lean
from .ratios import (
    ALLOWANCE,
    ALLOWANCE_KIND,
    DILUTE_MARGIN,
    FUEL_KIND,
    MARGIN,
    MARGIN_KIND,
    NEAR,
    NEAR_KIND,
    OXYGEN_KIND,
    RICH_KIND,
    RISE,
    RISE_KIND,
    SHARE,
    TO_LIMITING,
    TO_LOWER,
    TO_UPPER,
    UPPER_OF_MIXTURE,
)


def _place_measures(
    setup: Setup, place: Place, limits: Limits, thin: Dilute, small: Quantity
) -> Iterable[Measure]:
    limits = _as_vapour(setup, place, limits)
    some, here = setup.distinct(place, GAS, ("old", "outlet", "moving", "hot"))
    lines = lines_at(some, here, limits, thin)
    flat, strange = lines.flat(), lines.strange()
    share = np.where(
        lines.loc >= LOW_LOC, setup.limit(INERT_HIGH).value[0], setup.limit(INERT_LOW).value[0]
    )
    dilute = lines.dilute()
    away = lines.burns_away(float(setup.limit(AFTER_BURN_RISE).value[0]))
    thinnest = np.fmin(dilute[0], away), dilute[1]
    near = worst_lean(flat)
    at, ratio = worst(flat, near)
    ratio = _or_dilute(np.where(strange, np.nan, ratio), DILUTE_MARGIN * thinnest[0])
    lean, inert, rich, margin = _envelope(lines, at, ratio, thinnest)
    margin = _told(lines, strange, margin)
    highest = some.over_all(lines.whole.gases.max(axis=0))
    still = cold_vapour(setup, place, limits, highest, some.over_all(margin.value))
    kinds = (FUEL_KIND, OXYGEN_KIND, RICH_KIND, MARGIN_KIND)
    for kind, found in zip(kinds, (lean, inert, rich, margin), strict=True):
        yield some.measure(kind, found, place.id)
    lean_share = float(setup.limit(LEAN_SHARE).value[0])
    at, used = worst_allowance(flat, lean_share, share)
    used = _or_dilute(np.where(strange, np.nan, used), dilute[0])
    allowance = _told(lines, strange, _allowance(lines, at, used, share, dilute))
    yield some.measure(ALLOWANCE_KIND, allowance, place.id)
    pressed = relieved(setup, place)[0].value
    made_here = np.where(plain(limits, highest, pressed), small.value, 0.0)
    rules = [
        Rule(HEADSPACE_KIND, HEADSPACE, still),
        Rule(SMALL_KIND, SMALL, small.revised(made_here, small.status)),
    ]
    yield from apart(setup, place, rules, some.spread(margin), some.spread(allowance))
    yield from _near(lines, near[1], strange)


def _as_vapour(setup: Setup, place: Place, limits: Limits) -> Limits:
    """The limits without oxidisers that hardly evaporate: over none that is as hot as anything here
    and upstream ever is can there be more than a trace, whatever the balance says of it.

    Sulfuric acid has 1.5 Pa at 98 degC (Ayers, Gillett and Gras 1980).
    """
    if not limits.strangers:
        return limits
    hottest = np.max([setup.places[i].hottest.value.max() for i in place.before])
    least = TRACE * np.min(np.append(place.pressure.value, setup.number("ambient.pressure").value))
    kept = []
    for i in limits.strangers:
        curve = setup.species[i].curve("vapour_pressure")
        if curve.state != "known":
            kept.append(i)
            continue
        at = np.maximum(np.array([hottest]), curve.low)  # colder it has no more than there
        pressure, inside = vapour_pressure(setup.species[i], at)
        if not (inside[0] and pressure[0] <= least):
            kept.append(i)
    return replace(limits, strangers=tuple(kept))


def _told(lines: Lines, strange: NDArray[np.bool_], found: Quantity) -> Quantity:
    """What is missing for an oxidiser that no limits are published with, said by its name."""
    if not strange.any():
        return found
    known = np.nan_to_num(lines.whole.gases)
    there = [i for i in lines.limits.strangers if not (known[:, i] <= TRACE).all()]
    if not there:  # what lacks is how much of it there is, and why is told with that
        return found
    names = " and ".join(lines.setup.species[i].name for i in there)
    name = f"how fuels burn with {names}"
    told = Quantity.of(found.value, found.status, name=name, unit=found.unit, source=name)
    return told.comparing(found.compared)


def _or_dilute(ratio: FloatArray, dilute: FloatArray) -> FloatArray:
    return np.where(np.isfinite(dilute), np.fmin(ratio, dilute), ratio)


def _near(lines: Lines, ratio: FloatArray, strange: NDArray[np.bool_]) -> Iterable[Measure]:
    """How near the mixtures here come to burning, rich gas included, and what burning does."""
    setup, place = lines.setup, lines.place
    ratio = np.where(strange, np.nan, ratio)
    near = lines.most(np.where(np.isnan(ratio), np.inf, ratio))
    near = np.where(np.isinf(near), np.nan, near)
    mixture = setup.quantity(near, f"worst mixture at {place.id}", "1", "mixing lines")
    yield setup.measure(NEAR_KIND, NEAR(mixture=mixture), place.id)
    heat, capacity = lines.warming()
    most = np.where(np.isnan(heat), np.inf, heat / capacity).argmax(axis=0)[None]
    rise = RISE(
        H=setup.quantity(
            np.take_along_axis(heat, most, 0)[0], f"heat at {place.id}", "J/mol", "mixing lines"
        ),
        cp=setup.quantity(
            np.take_along_axis(capacity, most, 0)[0], "heat capacity", "J/(mol K)", "stated"
        ),
    )
    yield setup.measure(RISE_KIND, rise, place.id)


Thin = tuple[FloatArray, NDArray[np.bool_]]


def _envelope(
    lines: Lines, at: FloatArray, ratio: FloatArray, dilute: Thin
) -> tuple[Quantity, Quantity, Quantity, Quantity]:
    setup, pick = lines.setup, lines.worst(ratio)
    lean, inert, rich = _three(lines, pick, at)
    there, thin = ratio[pick], _at_piece(dilute, pick)
    decisive = np.isnan(there) | ((there < 1) & (np.fmin(lean.value, rich.value) >= 1))
    margin = MARGIN(lean=lean, inert=inert.revised(inert.value), rich=rich, dilute=thin)
    margin = margin.comparing(lean.compared)
    by_dilution = there >= DILUTE_MARGIN * thin.value
    status = np.where(decisive & ~by_dilution, inert.status, np.uint8(0))
    status = np.where(by_dilution, thin.status, status)
    margin = margin.revised(np.where(np.isnan(there), np.nan, margin.value),
        np.maximum(setup.engine_status, status))  # fmt: skip
    return lean, inert, rich, margin


def _at_piece(dilute: Thin, pick: NDArray[np.intp]) -> Quantity:
    share, guessed = (x[pick] for x in dilute)
    return Quantity.of(
        share,
        np.where(guessed & np.isfinite(share), np.uint8(1), np.uint8(0)),
        name="fuel over what burns in no amount of air",
        source="ISO 10156; from the limits where it lists none",
    )


def _allowance(
    lines: Lines, at: FloatArray, used: FloatArray, share: FloatArray, dilute: Thin
) -> Quantity:
    setup, pick = lines.setup, lines.worst(used)
    lean, inert, _ = _three(lines, pick, at, upper=False)
    thin, share_there = _at_piece(dilute, pick), share[pick]
    allowance = ALLOWANCE(
        lean=lean,
        lean_share=setup.limit(LEAN_SHARE),
        inert=inert,
        inert_share=Quantity.of(share_there, name="share allowed", source="ruleset limit"),
        dilute=thin,
    )
    there = used[pick]
    # An estimate counts as one only where it is what keeps the share below 1.
    needs_inert = np.isnan(there) | (
        (there <= 1) & ~(lean.value <= setup.limit(LEAN_SHARE).value[0])
    )
    by_dilution = there >= thin.value
    needed = np.where(by_dilution, np.maximum(thin.status, setup.engine_status), allowance.status)
    least = lean.compared
    if least is not None:
        held = least.edge * setup.limit(LEAN_SHARE).value
        allowance = allowance.made_of(least.value, held, "mol/mol", "%", least.what)
    return allowance.revised(
        np.where(np.isnan(there), np.nan, allowance.value),
        np.where(needs_inert, needed, setup.engine_status),
    )


def _three(
    lines: Lines, pick: NDArray[np.intp], at: FloatArray, *, upper: bool = True
) -> tuple[Quantity, Quantity, Quantity]:
    """The three ratios with their working, at the place picked on the line picked."""
    setup, place, limits = lines.setup, lines.place, lines.limits
    start, end = lines.ends[0][:, pick], lines.ends[1][:, pick]
    mix = start + at[pick] * (end - start)
    noble = Quantity.of(
        lines.noble[pick], name="share of noble gas", unit="1", source="mixing line"
    )
    lowers = []
    for n, (row, fuel) in enumerate(zip(limits.rows, limits.fuels, strict=True)):
        x = setup.quantity(mix[row], f"{fuel.name} at {place.id}", "mol/mol", "mixing line")
        low = LOWER_LIMIT(
            L25=datum(fuel, "lower_limit_air"),
            s=Quantity.of(limits.slope[n], name="fall per kelvin", source=limits.slope_from[n]),
            T=place.hottest,
            floor=Quantity.of(0.1, name="least share", source="stated"),
        )
        low = LOWER_IN_NOBLE(L=low, n=noble) if limits.noble else low
        lowers.append(_present(SHARE(x=x, L=low), mix[row]))
    oxygen = setup.quantity(mix[limits.oxygen], f"oxygen at {place.id}", "mol/mol", "mixing line")
    fuels = mix[list(limits.rows)].sum(axis=0)
    lean = TO_LOWER(shares=lowers)
    # All fuels together against the lower limit of their mixture.
    lean = lean.made_of(
        fuels, fuels / lean.value, "mol/mol", "%", _fuels_named(lines), place.hottest.value
    )
    loc_there, guess_there = lines.loc[pick], lines.guessed[pick]
    limiting = Quantity.of(
        loc_there,
        np.where(guess_there & ~(mix[limits.oxygen] <= TRACE), np.uint8(1), np.uint8(0)),
        name="limiting oxygen when hot",
        unit="mol/mol",
        source="reference data, scaled with temperature",
    )
    inert = _present(TO_LIMITING(o=oxygen, loc=limiting), mix[limits.oxygen])
    inert = inert.made_of(mix[limits.oxygen], loc_there, "mol/mol", "%", "oxygen")
    alone = loc_there == 0
    inert = _forced(inert, alone)
    if not upper:
        return lean, inert, inert
    return lean, inert, _rich(lines, mix, noble, oxygen, alone)


def _fuels_named(lines: Lines) -> str:
    """The fuels that there can be, in words."""
    fuel = lines.whole.gases[:, list(lines.limits.rows)]
    there = np.asarray(~(fuel <= TRACE).all(axis=(0, 2)))
    names = [fuel.name for fuel, any_ in zip(lines.limits.fuels, there, strict=True) if any_]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _rich(
    lines: Lines, mix: FloatArray, noble: Quantity, oxygen: Quantity, alone: NDArray[np.bool_]
) -> Quantity:
    """Upper boundary over fuel, at one mixture of every trial."""
    setup, place, limits = lines.setup, lines.place, lines.limits
    fuel = setup.quantity(
        mix[list(limits.rows)].sum(axis=0), f"fuel at {place.id}", "mol/mol", "mixing line"
    )
    uppers, pures = [], []
    for n, (row, substance) in enumerate(zip(limits.rows, limits.fuels, strict=True)):
        x = setup.quantity(mix[row], f"{substance.name} at {place.id}", "mol/mol", "mixing line")
        up = UPPER_LIMIT(U25=datum(substance, "upper_limit_air"), T=place.hottest, P=place.pressure)
        up = UPPER_IN_NOBLE(U=up, n=noble) if limits.noble else up
        uppers.append(_present(SHARE(x=x, L=up), mix[row]))
        pures.append(np.where(mix[row] <= 0, 0.0, mix[row] / lines.hot.upper_oxygen[n]))
    mixture = UPPER_OF_MIXTURE(F=fuel, shares=uppers)
    pure = fuel.value / np.sum(pures, axis=0)
    pure = np.where(np.isnan(pure), 1.0, pure)
    in_oxygen = Quantity.of(
        np.where(fuel.value > 0, np.fmax(pure, mixture.value), 1.0),
        name="upper limit in oxygen",
        unit="mol/mol",
        source="reference data; 1 where unknown",
    )
    rich = TO_UPPER(o=oxygen, U=mixture, Uo=in_oxygen, F=fuel)
    return _forced(rich, alone | (fuel.value <= 0))


def _present(quantity: Quantity, content: FloatArray) -> Quantity:
    """Nothing present is a ratio of zero whatever the limit, known or not."""
    return quantity.revised(np.where(content <= 0, 0.0, quantity.value),
        np.where(content <= 0, np.uint8(0), quantity.status))  # fmt: skip


def _forced(quantity: Quantity, where: NDArray[np.bool_]) -> Quantity:
    """Infinite where the boundary keeps nothing out."""
    return quantity.revised(np.where(where, np.inf, quantity.value),
        np.where(where, np.uint8(0), quantity.status))  # fmt: skip


def _compute(setup: Setup) -> Iterable[Measure]:
    limits = limits_of(setup.species)
    if not limits.fuels:
        return
    thin = Dilute.of(setup.species, limits)
    small = small_train(setup, limits)
    found = [m for p in setup.places for m in _place_measures(setup, p, limits, thin, small)]
    yield from found
    kinds = {m.kind for m in found}
    if HEADSPACE_KIND.id not in kinds:
        why = "no liquid that burns stands cold, led into a hood, with nothing near to light it"
        yield nowhere(setup, HEADSPACE_KIND, why)
    if SMALL_KIND.id not in kinds:
        why = "no gas that burns is made in a small cold train with nothing near to light it"
        yield nowhere(setup, SMALL_KIND, why)


ENVELOPE = Computation(
    kinds=(
        FUEL_KIND,
        OXYGEN_KIND,
        RICH_KIND,
        MARGIN_KIND,
        ALLOWANCE_KIND,
        ELSEWHERE_KIND,
        HEADSPACE_KIND,
        SMALL_KIND,
        BEYOND_KIND,
        STILL_KIND,
        NEAR_KIND,
        RISE_KIND,
    ),
    compute=_compute,
    limits=(
        LEAN_SHARE, INERT_HIGH, INERT_LOW, AFTER_BURN_RISE, MOST_VOLUME, FIERCE_VOLUME,
        SCREENED_VOLUME,
    ),  # fmt: skip
)
