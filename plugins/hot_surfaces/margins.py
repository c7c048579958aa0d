"""What materials and joints see, against the highest temperature they bear."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from review import Computation, FloatArray, Input, Kind, Measure, Method, Place, Quantity, Setup
from review.physics.heat import fin_temperature, still_air

from ..shared.residue import boiled_dry
from .sheet import (
    HOTTEST,
    LESS_LEFT,
    figure,
    heated,
    item_temperature,
    kind,
    limit_of,
    material_called,
)
from .surface import outside

#: The loss of a bare end to still air is taken where it is this much warmer than the room, K: the
#: warmer rest loses more, and a colder end harms no seal.
COOL_SURFACE = 20.0

#: Glass conducts better when hot, by radiation through it too; up to twice its figure at room
#: temperature below 1000 degC (from memory).
HOT_GLASS = 2.0

#: Kinds of material that a casing melts or chars of; one of metal only gets hot.
BURNS = ("polymer", "wood")
#: What is wound around a tube by hand, with wool over it: nobody builds a shell around that.
SOFT = "heating tape"

#: Where glass begins to give by its own weight, K: an open vessel on which nothing presses bears
#: that for the minutes over a flame (annealing point, ISO 3585, from memory).
ANNEALS = {"borosilicate glass 3.3": 560.0 + 273.15}

#: A thick stopper of natural rubber stands in steam where a thin hose would give, K: bungs close
#: flasks in which water boils. Common practice, no source; a condition and no more.
IN_STEAM = {"natural rubber": 105.0 + 273.15}
STOPPERS = ("rubber stopper", "wired stopper")

#: What so much by mass is dissolved in boils hardly hotter: brine of 5 % at 101 degC.
LITTLE_DISSOLVED = 0.05

#: Heaters that warm a vessel up to its neck.
ALL_AROUND = (
    "tube furnace", "furnace", "drying oven", "heating tape", "heating coil", "heat gun",
    "gas torch", "infrared lamp", "microwave oven", "induction heater", "air bath", "gas furnace",
    "charcoal fire",
)  # fmt: skip

#: What a kind of joint is sealed with, where nobody says otherwise.
FIN = Method(
    id="heat.cold_end",
    title="Wall at the end of a heated tube",
    result="wall temperature at the end",
    unit="K",
    formula=(
        "Ta + 2 * (Th - Ta) / (exp(L * sqrt(h * (d + 2 * t) / (k * (d + t) * t)))"
        " + exp(-L * sqrt(h * (d + 2 * t) / (k * (d + t) * t))))"
    ),
    inputs=(
        Input("Th", "T_h", "K", "heated zone"),
        Input("Ta", "T_a", "K", "room"),
        Input("L", "L", "m", "bare length between heated zone and end"),
        Input("h", "h", "W/(m2 K)", "heat loss to still air, low end"),
        Input("d", "d", "m", "bore"),
        Input("t", "t", "m", "wall"),
        Input("k", "k", "W/(m K)", "conductivity of the wall, when hot"),
    ),
    function=lambda Th, Ta, L, h, d, t, k: fin_temperature(
        L, Th, Ta, h, np.pi * (d + 2 * t), k, np.pi * (d + t) * t, L
    ),
    source="fin with an end that loses nothing, Incropera & DeWitt, Table 3.4",
    validity="heated zone in the middle; incoming gas that cools the end is not counted; no "
    "radiation along the bore",
)
MARGIN = Method(
    id="heat.material_margin",
    title="Hottest part below what its material bears",
    result="margin",
    unit="K",
    formula="T_max - T",
    inputs=(
        Input("T_max", "T_max", "K", "highest temperature for continuous use, lowest published"),
        Input("T", "T", "K", "hottest it gets"),
    ),
    function=lambda T_max, T: T_max - T,
    compares=lambda T_max, T: (T, T_max),
    compared_in=("K", "degC"),
    source="difference; what gas washes counts at gas temperature",
    validity="a material nobody named bears 60 degC where it stays below that, else is missing",
)

MATERIAL_KIND = kind(
    MARGIN,
    "lower",
    "K",
    {
        **LESS_LEFT,
        "flows.*.rate": "down",
        "train.*.bath_temperature": "down",
        "train.*.temperature": "down",
    },
)
JOINT_KIND = kind(
    MARGIN,
    "lower",
    "K",
    {
        **LESS_LEFT,
        "flows.*.rate": "down",
        "train.*.heated_length": "down",
        "train.*.length": "up",
        "train.*.joint_maximum_temperature": "up",
    },
    "heat.joint_margin",
    "Joint below what it bears",
)


def end_wall(setup: Setup, place: Place) -> Quantity:
    """Wall of a heated item where it is joined: the fin of its bare end, K.

    As hot as the heated zone unless length and heated length are given.
    """
    hot = item_temperature(place)
    if place.model.length is None or place.model.heated_length is None:
        return hot
    material = place.material
    k = figure(material, "conductivity", "W/(m K)", f"wall of {place.id}")
    if material is not None and material.kind == "glass":
        k = Quantity.of(
            HOT_GLASS * k.value, k.status, name=k.name, unit=k.unit,
            source=f"twice, for hot glass: {k.source}",
        )  # fmt: skip
    length, zone = place.number("length"), place.number("heated_length")
    ends = place.kind.bare_ends
    bare = Quantity.of(
        (length.value - zone.value) / ends, name="bare length", unit="m",
        source=f"scenario: length less heated length, over {ends}",
    )  # fmt: skip
    ambient, bore, wall = (setup.number("ambient.temperature"), place.number("inner_diameter"),
                           place.number("wall"))  # fmt: skip
    shines = figure(material, "emissivity", "1", place.id)
    loss = still_air(
        ambient.value + COOL_SURFACE, ambient.value, bore.value + 2 * wall.value,
        np.nan_to_num(shines.value),
    )  # fmt: skip
    return FIN(
        Th=hot,
        Ta=ambient,
        L=bare,
        h=Quantity.of(
            loss, name="heat loss to still air", unit="W/(m2 K)", source="Churchill & Chu (1975)"
        ),
        d=bore,
        t=wall,
        k=k,
    )


def _steam(setup: Setup, place: Place) -> FloatArray:
    """How hot what a boiling liquid gives off can be here, K: no hotter than its last part boils,
    as long as it cannot boil dry; infinite where anything else may warm it."""
    return setup.once(_steams)[place.index]


def _steams(setup: Setup) -> list[FloatArray]:
    """The same of each item; gas can come from one that the file names later."""
    known: dict[int, FloatArray] = {}

    def of(i: int) -> FloatArray:
        if i not in known:
            known[i] = _steam_at(setup, setup.places[i], of)
        return known[i]

    return [of(place.index) for place in setup.places]


def _steam_at(setup: Setup, place: Place, of: Callable[[int], FloatArray]) -> FloatArray:
    model, nowhere = place.model, np.full(setup.trials, np.inf)
    heats = [heat for heat in setup.scenario.heat.values() if heat.heats == place.id]
    if model.reactions or model.temperature is not None or model.bath_temperature is not None:
        return nowhere
    if not heats:
        before = [of(i) for i in place.upstream]
        fed = any(flow.into == place.id for flow in setup.scenario.flows.values())
        return np.max(before, axis=0) if before and not fed else nowhere
    liquids = [setup.reference.substance(name) for name in place.liquid]
    points = [s.number("boiling_point") for s in liquids if s.phase_at_20C != "solid"]
    dissolved = [np.max(place.liquid[s.name]) for s in liquids if s.phase_at_20C == "solid"]
    if not sum(dissolved) <= LITTLE_DISSOLVED:  # it boils hotter, and so is its steam
        return nowhere
    around = any(heat.kind in ALL_AROUND for heat in heats)
    if place.kind.id != "vessel" or around or not points or np.isnan(points).any():
        return nowhere
    return np.where(boiled_dry(setup, place) <= 0, max(points), np.inf)


def _ends(setup: Setup, place: Place) -> tuple[Quantity, Quantity]:
    """What the inlet end and the outlet end of an item see, gas and walls of both sides, K."""
    on_purpose = heated(setup)
    steam = _steam(setup, place)
    up, down = ([setup.places[i] for i in each] for each in (place.upstream, place.downstream))
    into = np.max([_steam(setup, p) for p in up], axis=0) if up else steam
    inlet, outlet = [_no_hotter(place.gas_in, into)], [place.gas_out, place.wall_out]
    outlet = [_no_hotter(each, steam) for each in outlet]
    inlet += [_no_hotter(p.wall_out, _steam(setup, p)) for p in up]
    outlet += [_neck(setup, p) for p in down if p.id in on_purpose]
    inlet += [_neck(setup, p) for p in up if p.id in on_purpose]
    if place.id in on_purpose:
        own = _neck(setup, place)
        inlet.append(own)
        outlet.append(own)
    elif place.model.bath_temperature is not None or place.model.temperature is not None:
        inlet.append(item_temperature(place))
        outlet.append(item_temperature(place))
    return HOTTEST(temperatures=inlet), HOTTEST(temperatures=outlet)


def _neck(setup: Setup, place: Place) -> Quantity:
    """What the joint of a heated item sees: its end, or the steam of what boils in it, K."""
    return _no_hotter(end_wall(setup, place), _steam(setup, place))


def _no_hotter(temperature: Quantity, most: FloatArray) -> Quantity:
    return temperature.revised(np.minimum(temperature.value, most), temperature.status)


def _in_steam(setup: Setup, place: Place, name: str | None) -> FloatArray:
    """What a stopper bears where all that reaches it is what a liquid boils off, K; else 0."""
    around = [_steam(setup, setup.places[i]) for i in place.upstream] + [_steam(setup, place)]
    bears = IN_STEAM.get(str(name), 0.0)
    return np.where(np.isfinite(np.min(around, axis=0)), bears, 0.0)


def _hot_because(setup: Setup, place: Place) -> str:
    """What the file leaves out, or a liquid that can boil dry, so that the ends count as hot as the
    heat; '' for neither."""
    on_purpose = heated(setup)
    for near in (place, *(setup.places[i] for i in place.upstream)):
        if near.id not in on_purpose:
            continue
        if near.model.liquid is not None and not (boiled_dry(setup, near) <= 0).all():
            return f"{near.id} can boil dry: more liquid, less power or a shorter step"
        if near.model.length is not None and near.model.heated_length is None:
            return f'State how much of {near.id} is heated, such as "heated_length: 40 mm"'
    return ""


def _open(place: Place) -> bool:
    """Whether a vessel stands open, with nothing joined to it or led into it."""
    bare = place.model.joint == "none" and len(place.before) == 1
    return bare and place.kind.id == "vessel" and not (place.delivered.value > 0).any()


def _compute(setup: Setup) -> Iterable[Measure]:
    joints = 0
    on_purpose = heated(setup)
    for place in setup.places:
        if place.is_end:
            continue
        inlet, outlet = _ends(setup, place)
        body = item_temperature(place)
        if place.id not in on_purpose:
            body = HOTTEST(temperatures=[body, inlet, outlet])
        named = [n for n in (place.model.material, place.model.lining) if n is not None]
        for name in dict.fromkeys(named) or (None,):
            anneals = ANNEALS.get(place.material.name) if _open(place) and place.material else None
            yield _margin(
                setup, MATERIAL_KIND, name, body, place.id, "unnamed material", bears=anneals
            )
        ends = (inlet, outlet)
        seen: dict[str | None, list[Quantity]] = {}
        for name, end in place.seals:
            seen.setdefault(name, []).append(ends[end])
        for name, temperatures in seen.items():
            joints += 1
            hottest = HOTTEST(temperatures=temperatures)
            joint = place.model.joint or "unnamed joint"
            stopped = setup.reference.joint(joint).name in STOPPERS if place.model.joint else False
            seal = _margin(
                setup, JOINT_KIND, name, hottest, place.id, f"{joint}, seal not named",
                bears=_in_steam(setup, place, name) if stopped else None,
            )  # fmt: skip
            if (seal.value < 0).any():
                seal = replace(seal, note=seal.note or _hot_because(setup, place))
            yield seal
            if place.model.joint_maximum_temperature is not None:
                claimed = place.number("joint_maximum_temperature")
                made = MARGIN(T_max=claimed, T=hottest)
                yield setup.measure(
                    JOINT_KIND, made, place.id, f"{seal.of}, as its maker says",
                    "the maker's word for the joint; its seal is judged beside it",
                )  # fmt: skip
    for name, heat in setup.scenario.heat.items():
        wool = heat.insulation
        # A thickness says that there is some, whatever it is.
        if wool != "none" and not (wool is None and heat.insulation_thickness is None):
            place = next(p for p in setup.places if p.id == heat.heats)
            part = f"{wool or 'insulation'} around {name}"
            hot = item_temperature(place)
            yield _margin(setup, MATERIAL_KIND, wool, hot, place.id, part, part)
        casing = material_called(setup, heat.casing)
        # Who builds lagging into a shell knows its material; bought and bare heaters are of metal.
        shelled = heat.insulation_thickness is not None or heat.outer_diameter is not None
        shelled &= heat.kind != SOFT
        if casing.kind in BURNS if casing is not None else shelled:
            place = next(p for p in setup.places if p.id == heat.heats)
            shell, part = outside(setup, name, item_temperature(place))[0], f"casing of {name}"
            yield _margin(setup, MATERIAL_KIND, heat.casing, shell, place.id, part, part)
    if not joints:
        ambient = setup.number("ambient.temperature")
        yield setup.measure(
            JOINT_KIND, MARGIN(T_max=limit_of(None, ambient, "no joint"), T=ambient), "train",
            note="the train has no joints",
        )  # fmt: skip


def _margin(
    setup: Setup, what: Kind, name: str | None, hottest: Quantity, at: str, part: str, of: str = "",
    *, bears: FloatArray | float | None = None,
) -> Measure:  # fmt: skip
    """Margin of a material by its name in the file; `part` is what to call it without one.

    What such a part `bears`, K, counts where the material as a rule bears less.
    """
    material = material_called(setup, name)
    no_seal = name is None and what is JOINT_KIND
    key = ', write its "joint_material"' if no_seal else ""
    limit = limit_of(material, hottest, name or part + key)
    if bears is not None:
        limit = limit.revised(np.maximum(limit.value, bears), limit.status)
    note = ""
    if material is None:
        note = f"{part}: say what it is made of" if name is None else f"unknown material {name!r}"
        if part.startswith("casing of "):
            note += ', such as "casing: stainless steel" under that heater'
        if no_seal:
            note += ', such as "joint_material: PTFE"'
    elif np.isnan(figure(material, "maximum_temperature", "K", part).value).any():
        note = f"no highest temperature is known for {material.name}"
    subject = of or (part if material is None and name is None else str(name))
    return setup.measure(what, MARGIN(T_max=limit, T=hottest), at, subject, note)


MARGINS = Computation(kinds=(MATERIAL_KIND, JOINT_KIND), compute=_compute)
