"""Exposure limits of a substance: the site's own, else the lowest published.

Where a substance has an 8-hour limit and no short-term or ceiling limit, three and five times the
8-hour limit stand in for them: by rule where the sources were found to give none, as an estimate
where nobody found any. What has no 8-hour limit either, by its sources, has none, unless its vapour
is known to poison or to burn: nobody published how much of it is too much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review import FloatArray, Input, Method, Quantity, Setup, Substance

#: Kind of limit in a ruleset -> property of the substance.
PROPERTIES = {
    "eight_hour": "limit_8_hour",
    "short_term": "limit_short_term",
    "ceiling": "limit_ceiling",
    "idlh": "idlh",
}
NAMES = {
    "eight_hour": "8-hour limit",
    "short_term": "15-minute limit",
    "ceiling": "ceiling limit",
    "idlh": "IDLH",
}
EXCURSION = {"short_term": 3.0, "ceiling": 5.0}

#: Fatal or toxic if inhaled, may cause cancer; corrosive to skin, and so to the lungs (UN GHS).
HARMFUL = frozenset({"H330", "H331", "H350"})
CORROSIVE = ("1", "1A", "1B")

STAND_IN = Method(
    id="exposure.excursion_limit",
    title="Limit of short excursions above an 8-hour limit",
    result="stand-in for the limit",
    unit="mol/mol",
    formula="k * L",
    inputs=(
        Input("k", "k", "1", "3 for 15 minutes, 5 at any time"),
        Input("L", "L_8", "mol/mol", "8-hour limit"),
    ),
    function=lambda k, L: k * L,
    source="ACGIH, excursions above an 8-hour limit without short-term limit (from memory)",
    validity="a substance with an 8-hour limit alone; three times, at most four times a day; an "
    "estimate where a short-term limit may exist and was not found",
)
#: Status of a figure that may have a lower one beside it which nobody found.
ESTIMATED, MISSING = 1, 3


LEAST = Method(
    id="exposure.failure_limit",
    title="What a failure may reach at most",
    result="limit for a failure",
    unit="mol/mol",
    formula="min(limits)",
    inputs=(Input("limits", "L", "mol/mol", "AEGL-2 or short-term limit; IDLH"),),
    function=lambda limits: np.fmin.reduce(np.broadcast_arrays(*limits)),
    source="AEGL-2 of the US EPA: above it people are hurt for long or cannot escape; NIOSH IDLH",
    validity=(
        "AEGL-2 at the next longer time stated, 10 minutes to 8 hours; without one the short-term "
        "limit. The stay counts all steps with a tenth of the peak or more, each for as long as "
        "the release in it goes on where the room holds less; nobody leaves"
    ),
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What holds for one substance; a kind of limit it has none of is left out."""

    known: dict[str, Quantity]
    notes: dict[str, str]
    """What a reader must know of a limit, by its kind."""
    excursion: bool = False
    """Whether five times the 8-hour limit stands in for a ceiling."""

    @property
    def lowest_of_a_day(self) -> Quantity | None:
        """The 8-hour limit; without one, the lower of the short-term and the ceiling limit."""
        return self.known.get("eight_hour", self.lowest_short)

    @property
    def lowest_short(self) -> Quantity | None:
        """The lower of the short-term and the ceiling limit."""
        short = [self.known[name] for name in ("short_term", "ceiling") if name in self.known]
        # One that is missing comes first: nobody knows that it is not the lower one.
        return min(short, key=lambda q: np.nan_to_num(q.value, nan=-np.inf).min(), default=None)


def limits_of(setup: Setup, substance: Substance) -> Limits:
    """Every limit of a substance; one that is unknown without a stand-in is missing."""
    known: dict[str, Quantity] = {}
    notes: dict[str, str] = {}
    excursion = False
    for name, property_ in PROPERTIES.items():
        path = f"exposure.{name}.{substance.name}"
        site, datum = setup.limit(path), substance.datum(property_)
        words = f"{NAMES[name]} of {substance.name}"
        if site.status[0] == 0:
            known[name] = site
            if datum.value is not None and site.value[0] > datum.value:
                notes[name] = f"the site's {words} lies above the lowest published one"
        elif datum.value is not None:
            known[name] = Quantity.of_datum(datum, words)
        elif name in EXCURSION and (day := _given(known)) is not None:
            sure = datum.state == "none"
            factor = Quantity.of(
                EXCURSION[name], 0 if sure else ESTIMATED, name="factor", unit="1", source="ACGIH"
            )
            known[name] = STAND_IN(k=factor, L=day)
            excursion |= name == "ceiling"
            notes[name] = (
                f"no {words} {'exists' if sure else 'was found'}, so {EXCURSION[name]:g} times its "
                "8-hour limit is used"
            )
        elif datum.state == "unknown":
            why = f"no {words} was found, give one as ruleset limit {path}"
            known[name] = Quantity.missing(words, "mol/mol", why=why)
            notes[name] = why
    if not known and _harms(substance):
        for name in ("ceiling", "idlh"):
            words = f"{NAMES[name]} of {substance.name}"
            path = f"exposure.{name}.{substance.name}"
            why = f"its vapour harms and nobody published a limit: give one as ruleset limit {path}"
            known[name], notes[name] = Quantity.missing(words, "mol/mol", why=why), why
    return Limits(known, notes, excursion)


def _harms(substance: Substance) -> bool:
    """Whether what nobody published a limit for harms when it is breathed."""
    if substance.datum("aegl_2").state == "known":
        return False
    said = set(substance.hazard_statements or ())
    return bool(HARMFUL & said) or substance.skin_corrosion in CORROSIVE


def _given(known: dict[str, Quantity]) -> Quantity | None:
    """The 8-hour limit, if there is one and it is a number."""
    limit = known.get("eight_hour")
    return None if limit is None or bool((limit.status >= MISSING).any()) else limit


def levels(setup: Setup, substance: Substance, name: str) -> list[tuple[FloatArray, float, float]]:
    """Levels of a kind with the times of exposure, s, between which each holds; the last, on."""
    if name == "idlh":
        limit = limits_of(setup, substance).known.get("idlh")
        return [] if limit is None else [(limit.value, 0.0, np.inf)]
    stated = substance.datum(name).stated
    if not stated:
        return []
    times = [0.0, *(time for time, _ in stated)]
    ends = [*times[1:-1], np.inf]
    return [
        (np.asarray(value), since, end)
        for (_, value), since, end in zip(stated, times[:-1], ends, strict=True)
    ]


def failure_limit(substance: Substance, limits: Limits, seconds: FloatArray) -> Quantity | None:
    """The lower of AEGL-2, else the short-term limit, and IDLH; None without any of them."""
    parts = []
    if substance.datum("aegl_2").state == "known":
        name = f"AEGL-2 of {substance.name}"
        parts.append(Quantity.of_datum(substance.datum("aegl_2"), name, exposed=seconds))
    elif "short_term" in limits.known:
        parts.append(limits.known["short_term"])
    if "idlh" in limits.known:
        parts.append(limits.known["idlh"])
    return LEAST(limits=parts) if parts else None
