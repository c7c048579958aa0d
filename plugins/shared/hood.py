"""What a hood earns: its tested containment, or nothing.

Dilution by the hood's air earns nothing: what people breathe is what comes out of the opening, and
only a test with a tracer gas says how much that is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review import FloatArray, Input, Kind, Method, Quantity, Setup

#: ANSI/AIHA Z9.5 with ASHRAE 110, rating of a hood as it is used (from memory): mole fraction at
#: the mannequin's mouth, and the tracer let out inside, m3/s.
RATED, TRACER = 0.10e-6, 4e-3 / 60
#: Highest tracer rate the test method uses, 8 L/min (from memory); from there the credit tapers,
#: and at 30 L/min there is none (a judgement, no source): in between it falls to a 10^4.25th, which
#: is about what the room's own air movement would dilute to beside the source.
MOST_TRACER, NO_CREDIT, TAPER = 8e-3 / 60, 30e-3 / 60, 4.25
#: The test's gas leaves an ejector, a spill lies still: so much of it counts as if it were let in,
#: so that up to 40 L/min, 0.3 % of what a hood takes in, are contained as tested. A judgement.
LIES_STILL = 0.2
#: How many times worse a hood contains with a furnace in it: its warm air rises past the sash, some
#: litres a second of a few hundred that the hood takes in. Common practice, no source.
WARM = 10.0
#: A jet is looked at where the test's ejector stands, 150 mm behind the opening.
BEHIND_OPENING = 0.15
#: Bore taken for an outlet nobody measured, m: of a drawn-out tip, so that its jet is fast (common
#: practice, no source).
UNKNOWN_JET = 1e-3
#: The same of a pump's outlet, of one as it holds gas back, and of a gap that opens, m.
UNKNOWN_BORE = 4e-3
JET = Method(
    id="exposure.hood_jet",
    title="Speed of the outlet's jet at the opening of the hood",
    result="speed of the jet",
    unit="m/s",
    formula="6.3 * 4 * q / (pi * d * 0.15)",
    inputs=(
        Input("q", "q", "m3/s", "gas let into the hood, all outlets together"),
        Input("d", "d", "m", "narrowest bore of these outlets"),
    ),
    function=lambda q, d: 6.3 * 4 * q / (np.pi * d * BEHIND_OPENING),
    source="round free jet, centre line 6.3 u d / x (Rajaratnam, Turbulent Jets, from memory)",
    validity="pointing at the opening from 150 mm behind it, which is the worst way to point",
)

#: A wider bore than is told would be no outlet any more, m.
WIDEST = 0.1
BORE = Method(
    id="exposure.hood_bore",
    title="Bore of the outlet at which its jet stays in the hood",
    result="least bore",
    unit="m",
    formula="1.1 * 6.3 * 4 * q / (pi * v * 0.15)",
    inputs=(
        Input("q", "q", "m3/s", "gas let into the hood, all outlets together"),
        Input("v", "v", "m/s", "face velocity"),
    ),
    function=lambda q, v: 1.1 * 6.3 * 4 * q / (np.pi * v * BEHIND_OPENING),
    source=f"{JET.source}, turned round, and a tenth more",
    validity=f"{JET.validity}; not known where a wider bore would not help",
)
BORE_KIND = Kind.of(BORE, "higher", "mm", {"ventilation.hood.face_velocity": "down"})


def degraded(
    proven: FloatArray, v: FloatArray, jet: FloatArray, q: FloatArray, warm: float = 1.0
) -> FloatArray:
    """How many times worse than rated the hood contains; infinite where it earns nothing.

    1 between 0.4 and 0.6 m/s, rising tenfold to 0.3 and to 0.75 m/s, nothing beyond; rising by
    10^4.25 from 8 to 30 L/min, nothing beyond; `warm` times that; nothing either for a hood that
    is not proven or a jet faster than the face velocity.

    >>> degraded(1.0, np.array([0.5, 0.35, 0.2]), 0.0, 1e-5).round(2).tolist()
    [1.0, 3.16, inf]
    >>> degraded(1.0, np.array(0.5), 0.0, np.array([8, 19, 30]) / 6e4).round(1).tolist()
    [1.0, 133.4, inf]
    """
    slow, fast = 10 ** ((0.4 - v) / 0.1), 10 ** ((v - 0.6) / 0.15)
    factor = np.where(v < 0.4, slow, np.where(v > 0.6, fast, 1.0))
    more = np.clip(q - MOST_TRACER, 0.0, NO_CREDIT - MOST_TRACER) / (NO_CREDIT - MOST_TRACER)
    holds = (proven > 0) & (v >= 0.3) & (v <= 0.75) & (jet <= v) & (q < NO_CREDIT)
    return np.where(holds, warm * factor * 10 ** (TAPER * more), np.inf)


DEGRADED = Method(
    id="exposure.hood_degradation",
    title="How many times worse than its rating the hood contains",
    result="degradation of the containment",
    unit="1",
    formula=(
        "where((proven > 0) & (v >= 0.3) & (v <= 0.75) & (jet <= v) & (q < 0.03 / 60), "
        "where(v < 0.4, 10**((0.4 - v) / 0.1), where(v > 0.6, 10**((v - 0.6) / 0.15), 1))"
        " * warm * 10**(4.25 * min(max(q - 0.008 / 60, 0), 0.022 / 60) / (0.022 / 60)), inf)"
    ),
    inputs=(
        Input("proven", "proven", "1", "1 for a tested fume hood that runs, without flame inside"),
        Input("v", "v", "m/s", "face velocity"),
        Input("jet", "u", "m/s", "speed of the outlet's jet at the opening"),
        Input("q", "q", "m3/s", "gas let into the hood, all outlets together"),
        Input("warm", "warm", "1", "10 with a furnace inside, else 1"),
    ),
    function=degraded,
    source=(
        "0.4 to 0.6 m/s: ANSI Z9.5 (a reproduction); up to 8 L/min: ASHRAE 110 (from memory); "
        "beyond: common practice, no source"
    ),
    validity=(
        "infinite means no credit: what is let into the hood then counts as let into the room. "
        "No credit without a test as used, for canopy, kitchen or ductless hoods, with a flame "
        "inside, with a jet, below 0.3 or above 0.75 m/s, from 30 L/min on"
    ),
)
CONTAINED = Method(
    id="exposure.hood_containment",
    title="What a tested hood lets out to the person in front of it",
    result="content in front of the hood",
    unit="mol/mol",
    formula="where(f < inf, h / (0.004 / 60) * 0.1e-6 * f, 0)",
    inputs=(
        Input("h", "G_h", "m3/s", "release of the substance into the hood"),
        Input("f", "f", "1", "degradation of the containment"),
    ),
    function=lambda h, f: np.where(
        np.isfinite(f), h / TRACER * RATED * np.where(np.isfinite(f), f, 0.0), 0.0
    ),
    source="ANSI/AIHA Z9.5 with ASHRAE 110: 0.10 ppm at 4 L/min of tracer, as used (from memory)",
    validity="in proportion to the release; sash as tested, nobody walking by, nothing in the way",
)


@dataclass(frozen=True, slots=True)
class Hood:
    """What is known of the hood over trials, and in words."""

    factor: Quantity
    """Degradation of the containment; infinite where the hood earns nothing."""
    design: FloatArray
    """The same if ventilation worked: what of its release stays out of the room."""
    bore: Quantity
    """Bore from which on the jet would stay in the hood; not known where that would not help."""
    words: str


def hood(setup: Setup, released: FloatArray, spilled: FloatArray) -> Hood:
    """What the hood earns; all gas let into it and what is spilled there, m3/s over trials."""
    fault = _fault(setup)
    here = fault or "the scenario's hood: a fume hood, tested, no flame inside"
    velocity = setup.number("ventilation.hood.face_velocity")
    working = setup.number("ventilation.working").value
    allowed = np.zeros(setup.trials) if fault else np.where(working > 0, 1.0, 0.0)
    total = setup.quantity(released, "gas let into the hood", "m3/s", "balance of the train")
    whole = setup.quantity(
        released + LIES_STILL * spilled, "gas let into the hood, and a fifth of what is spilled",
        "m3/s", "balance of the train",
    )
    speed = JET(q=total, d=_bore(setup))
    known = np.where(np.isnan(velocity.value), 0.0, velocity.value)
    face = Quantity.of(known, name="face velocity", unit="m/s", source="scenario; 0 if not given")
    furnace = _furnace(setup)
    warm = WARM if furnace else 1.0
    factor = DEGRADED(
        proven=Quantity.of(allowed, name="hood that runs and is proven", unit="1", source=here),
        v=face, jet=speed, q=whole,
        warm=Quantity.of(warm, name="furnace inside", unit="1", source=furnace or "none inside"),
    )  # fmt: skip
    design = degraded(np.array(float(not fault)), known, speed.value, whole.value, warm)
    used = any("hood" in (p.model.to, p.model.in_) for p in setup.places)
    still = degraded(allowed, known, np.array(0.0), whole.value, warm)
    bore = BORE(q=total, v=face.revised(np.where(known == 0, np.nan, known), face.status))
    helps = np.isinf(factor.value) & np.isfinite(still) & (bore.value < WIDEST)
    bore = bore.revised(np.where(helps, bore.value, np.nan), bore.status)
    return Hood(factor, design, bore, _words(setup, fault) if used else "")


def _fault(setup: Setup) -> str:
    """Why the hood cannot earn credit in any trial, or nothing."""
    ventilation = setup.scenario.ventilation
    described = None if ventilation is None else ventilation.hood
    if described is None:
        return "no hood is described"
    if described.exhaust == "room" or (described.kind == "ductless" and described.returns):
        return "the hood's exhaust goes back into the room"
    if described.kind is not None and not described.is_fume_hood:
        return f"a {described.kind} hood contains nothing that was tested"
    if described.tested != "yes":
        return "the hood has no containment test (tested: yes)"
    if described.face_velocity is None:
        return "the hood's face velocity is not given"
    sources = setup.scenario.heat.values()
    flames = sorted({h.kind for h in sources if h.energy == "flame"})
    # What else may be meant where no heat is named, the file does not say.
    if described.heat_inside == "yes" and (flames or not sources):
        return "a flame stands inside the hood (heat_inside: yes)"
    within = [h.heats for h in sources if h.energy == "flame" and _stands_inside(setup, h.heats)]
    if within:
        return f"a flame heats {within[0]}, which stands in the hood"
    burns = [
        s.in_ for name, s in setup.scenario.ignition_sources.items()
        if s.kind == "flame" and not (s.in_ is None and _far(setup, name))
    ]  # fmt: skip
    if not set(burns) <= {"room"}:
        may = "burns" if "hood" in burns else "may burn"
        return f"a flame {may} inside the hood (ignition_sources)"
    if flames and described.heat_inside == "unknown":
        return (
            f"the {flames[0]} may stand inside the hood, where its draught carries gas out "
            "(heat_inside: no if it stands outside)"
        )
    return ""


#: No hood of a bench is wider, m (makers' sizes, from memory): what is further from where gas
#: leaves does not stand in it.
ACROSS = 2.4


def _far(setup: Setup, source: str) -> bool:
    """Whether an ignition source stands so far from where gas leaves that it is in no hood."""
    stated = setup.scenario.ignition_sources[source].distance is not None
    path = f"ignition_sources.{source}.distance"
    return stated and bool((setup.number(path).value > ACROSS).all())


def _furnace(setup: Setup) -> str:
    """A furnace whose warm air rises inside the hood, or may; a bath or mantle draws no gas out."""
    ventilation = setup.scenario.ventilation
    if ventilation is None or ventilation.hood is None:
        return ""
    outside = ventilation.hood.heat_inside == "no"
    return next(
        (
            h.kind for h in setup.scenario.heat.values()
            if h.draughty and (not outside or _stands_inside(setup, h.heats))
        ), "",
    )  # fmt: skip


def _stands_inside(setup: Setup, heated: str) -> bool:
    """Whether what is heated stands in the hood by the file, whatever is said of the hood."""
    return setup.scenario.item(heated).in_ == "hood"


def _words(setup: Setup, fault: str) -> str:
    if fault:
        return f"what is let into the hood counts as let into the room, because {fault}"
    return (
        "the hood counts by its containment test while it runs at 0.3 to 0.75 m/s and takes in "
        "up to 8 L/min without a jet; from there its credit falls, and from 30 L/min on what is "
        "let into it counts as let into the room"
        + (f"; a tenth of it with the {furnace} inside" if (furnace := _furnace(setup)) else "")
    )


def _bore(setup: Setup) -> Quantity:
    """Narrowest bore through which gas is let into the hood, opened joints included.

    What breaks leaves a hole as wide as itself; a joint that opens is taken as a narrow gap.
    """
    found = [np.full(setup.trials, np.inf)]
    for place in setup.places:
        own = place.number("inner_diameter").value
        if not place.is_end:
            if place.model.in_ == "hood":
                opened = place.outward > 0
                broken = place.number("open_inward").value > 0
                wide = np.fmax(own, np.cbrt(place.volume.value))
                wide = np.where(wide == 0, UNKNOWN_BORE, wide)  # a pump holds nothing
                gap = np.where(broken, wide, np.fmin(own, UNKNOWN_BORE))
                found.append(np.where(opened, np.where(np.isnan(gap), UNKNOWN_BORE, gap), np.inf))
            continue
        if place.model.to != "hood":
            continue
        before = [setup.places[i] for i in place.upstream]
        tubes = [p.number("inner_diameter").value for p in before if p.model.length is not None]
        bores = [own] if place.model.inner_diameter is not None else tubes or [own]
        pumped = any(p.model.suction is not None for p in before)
        unknown = UNKNOWN_BORE if pumped else UNKNOWN_JET
        found += [np.where(np.isnan(b), unknown, b) for b in bores]
    return Quantity.of(
        np.min(found, axis=0),
        name="narrowest bore of the outlets", unit="m",
        source="scenario; if not given 1 mm, behind a pump 4 mm",
    )  # fmt: skip
