"""What lyes, acids, iodide, thiosulfate, copper and peroxide bind of a gas: stoichiometry of the
worse of two steps.

A second step that gives the gas back when warm or acid (sulfite to hydrogensulfite, sulfide to
hydrogensulfide) is not counted.
"""

from __future__ import annotations

from collections.abc import Mapping

#: Moles of gas that one mole of the component binds (stoichiometry of neutralisation; halogens to
#: halide and hypohalite, 2 OH- each; phosgene to carbonate and chloride, 4 OH-; iodometry).
PER_MOLE = {
    "lye": {
        "hydrogen chloride": 1.0, "hydrogen fluoride": 1.0, "hydrogen bromide": 1.0,
        "hydrogen iodide": 1.0, "nitric acid": 1.0, "acetic acid": 1.0, "formic acid": 1.0,
        "propionic acid": 1.0, "hydrogen cyanide": 1.0, "hydrogen sulfide": 0.5,
        "hydrogen selenide": 0.5, "chlorine": 0.5, "bromine": 0.5, "sulfur dioxide": 0.5,
        "sulfur trioxide": 0.5, "carbon dioxide": 0.5, "phosgene": 0.25,
    },
    "acid": dict.fromkeys(
        ("ammonia", "methylamine", "dimethylamine", "trimethylamine", "triethylamine"), 1.0
    ),
    # O3 + 2 I- + H2O -> I2 + O2 + 2 OH-; Cl2 + 2 I- -> 2 Cl- + I2
    "iodide": {"ozone": 0.5, "chlorine": 0.5, "bromine": 0.5},
    # 2 S2O3^2- + I2 -> S4O6^2- + 2 I-; chlorine and bromine take less of it than that
    "thiosulfate": {"chlorine": 0.5, "bromine": 0.5, "iodine": 0.5},
    "copper": {"hydrogen sulfide": 1.0},  # Cu2+ + H2S -> CuS + 2 H+
    "peroxide": {"sulfur dioxide": 1.0},  # H2O2 + SO2 -> H2SO4
}  # fmt: skip
BINDS = {
    "sodium hydroxide": "lye", "potassium hydroxide": "lye", "sulfuric acid": "acid",
    "hydrogen chloride": "acid", "hydrochloric acid": "acid", "phosphoric acid": "acid",
    "acetic acid": "acid", "potassium iodide": "iodide", "sodium thiosulfate": "thiosulfate",
    "copper sulfate": "copper", "hydrogen peroxide": "peroxide",
}  # fmt: skip

#: Protons that bind ammonia for good: both of sulfuric acid, the first of phosphoric acid.
PROTONS = {"sulfuric acid": 2.0}

#: Hydrogen halides that a kilogram of water takes up before their vapour over it counts, mol: half
#: of what makes acid of 13 %, some 10 ppm over it at 20 degC (vapour tables of the acids, from
#: memory).
IN_WATER = {"hydrogen chloride": 2.0, "hydrogen bromide": 2.0}

#: Share of its stoichiometric capacity that an absorbent surely reaches where the file states
#: none: half, as it ought to be changed, and a fifth less, so that a cautious statement is no less
#: (common practice, no source).
SURELY = 0.4


def bound(moles: Mapping[str, float], gas: str) -> float:
    """Moles of a gas that acids, lyes, iodide and thiosulfate in a liquid bind; 0 where none does.

    sum_i n_i nu_i

    moles: of each component in some amount of the liquid.

    >>> bound({"sulfuric acid": 0.1, "water": 50.0}, "ammonia")
    0.2

    Source: [1] stoichiometry of neutralisation.
    """
    found = 0.0
    for name, there in moles.items():
        kind = BINDS.get(name)
        per_mole = PER_MOLE.get(kind, {}).get(gas, 0.0) if kind else 0.0
        found += there * per_mole * PROTONS.get(name, 1.0)
    return found


def surely_bound(moles: Mapping[str, float], gas: str) -> float:
    """Two fifths of what a kilogram of a watery liquid binds, mol; NaN: not known.

    moles: of each component in that kilogram. A solid without water beside it binds nothing sure.

    >>> f"{surely_bound({'sodium hydroxide': 2.5, 'water': 50.0}, 'chlorine'):.3f}"
    '0.500'

    Source: [1] stoichiometry of neutralisation; for water alone `IN_WATER`.
    """
    if moles.get("water", 0.0) <= 0:
        return float("nan")
    found = SURELY * bound(moles, gas)
    return found if found > 0 else IN_WATER.get(gas, float("nan"))


def taken_by(moles: Mapping[str, float], of: str, other: str) -> float:
    """How much of what a liquid binds of one gas a mole of another takes, mol; 0 where it does not.

    nu_of / nu_other: carbon dioxide uses lye up as chlorine does.

    >>> taken_by({"sodium hydroxide": 2.5, "water": 50.0}, "hydrogen chloride", "carbon dioxide")
    2.0

    Source: [1] stoichiometry of neutralisation.
    """
    one, two = bound(moles, of), bound(moles, other)
    return one / two if one > 0 and two > 0 else 0.0
