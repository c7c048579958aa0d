"""Which gloves hold what is handled, and for how long, where makers' tables say so."""

from __future__ import annotations

from review import Review, Section

#: Minutes until a liquid comes through, by glove: thin nitrile (0.1 mm), natural rubber (0.15 mm),
#: chloroprene (0.6 mm), butyl rubber (0.5 mm), FKM (0.7 mm). Tests by EN 374-3 and ASTM F739 as
#: makers' tables have them, the low end, from memory; another make may hold a tenth of it.
GLOVES = ("thin nitrile", "natural rubber", "chloroprene", "butyl rubber", "FKM")
MINUTES: dict[str, tuple[int, ...]] = {
    "acetone": (0, 0, 10, 480, 0), "2-butanone": (0, 0, 10, 240, 0),
    "dichloromethane": (0, 0, 0, 15, 60), "chloroform": (0, 0, 5, 10, 480),
    "carbon tetrachloride": (5, 0, 30, 30, 480), "toluene": (1, 0, 10, 20, 480),
    "benzene": (0, 0, 10, 20, 360), "o-xylene": (5, 0, 20, 30, 480),
    "n-hexane": (30, 0, 60, 10, 480), "heptane": (30, 0, 60, 10, 480),
    "methanol": (1, 1, 60, 480, 60), "ethanol": (5, 2, 120, 480, 240),
    "isopropanol": (30, 5, 240, 480, 480), "1-butanol": (30, 10, 240, 480, 480),
    "ethyl acetate": (0, 0, 10, 120, 0), "diethyl ether": (0, 0, 10, 10, 10),
    "tetrahydrofuran": (0, 0, 5, 10, 0), "acetonitrile": (0, 1, 20, 480, 0),
    "dimethylformamide": (1, 5, 60, 480, 5), "dimethyl sulfoxide": (20, 30, 240, 480, 60),
    "pyridine": (0, 0, 10, 120, 5), "carbon disulfide": (0, 0, 0, 5, 480),
    "bromine": (0, 0, 5, 10, 30), "acetic acid": (5, 5, 120, 480, 60),
    "formic acid": (5, 30, 240, 480, 60), "hydrogen chloride": (60, 60, 240, 480, 480),
    "nitric acid": (1, 10, 60, 240, 240), "sulfuric acid": (5, 5, 60, 240, 480),
    "hydrogen fluoride": (5, 10, 60, 480, 60), "phosphoric acid": (240, 240, 480, 480, 480),
    "sodium hydroxide": (240, 240, 480, 480, 480),
    "potassium hydroxide": (240, 240, 480, 480, 480),
    "ammonia": (10, 10, 120, 240, 60), "hydrogen peroxide": (120, 120, 240, 480, 480),
    "formaldehyde": (120, 60, 240, 480, 480), "phenol": (10, 10, 120, 480, 480),
    "hydrazine": (120, 60, 240, 480, 30), "aniline": (10, 5, 60, 480, 60),
}  # fmt: skip
#: So long a glove ought to hold what may be spilled on it (common practice, no source).
LONG = 30
#: What does no harm to a hand, whatever the glove.
GASES = ("nitrogen", "oxygen", "argon", "helium", "hydrogen", "carbon dioxide", "carbon monoxide",
         "methane")  # fmt: skip
HARMLESS = ("water", "glycerol", "paraffin oil", "silicone oil", "sodium chloride", "sucrose")


def section(review: Review) -> Section | None:
    """A line for each liquid that is handled; None where there is none."""
    held = [name for name in review.facts["present"] if name not in HARMLESS]
    known = [_line(name) for name in held if name in MINUTES]
    if not known:
        return None
    unknown = [name for name in held if name not in MINUTES and name not in GASES]
    if unknown:
        known.append(f"Not known here, so ask the maker of the gloves: {', '.join(unknown)}.")
    known.append("Tests of one make, the low end, from memory: your maker's own figure counts.")
    return Section("Gloves for what is handled", tuple(known))


def _line(name: str) -> str:
    each = list(zip(GLOVES, MINUTES[name], strict=True))
    hold = [f"{glove} {m} min" for glove, m in each if not m < LONG]
    fail = [f"{glove} {m} min" if m else f"{glove} at once" for glove, m in each if m < LONG]
    said = f"{name}: holds {', '.join(hold)}" if hold else f"{name}: none of these holds for long"
    return f"{said}; lets it through {', '.join(fail)}." if fail else f"{said}."
