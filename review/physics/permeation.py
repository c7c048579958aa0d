"""What dissolves in the wall of a hose and passes through it.

Permeability at 25 degC in barrer, 1e-10 cm3(STP) cm/(cm2 s cmHg). Fillers, softeners and the make
of a rubber change it threefold, so each is an estimate.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from review.physics._arrays import FloatArray, keep_nan, number
from review.physics.gas import R

#: One barrer in mol m/(m2 s Pa): 1e-10 cm3(STP) cm/(cm2 s cmHg) with 22414 cm3/mol, 1333.22 Pa.
BARRER = 1e-10 / 22414.0 * 1e-2 / 1e-4 / 1333.22

#: Permeabilities by polymer and gas, barrer at 25 degC: silicone by Robb, Ann. N.Y. Acad. Sci. 146
#: (1968) 119; the others by Pauly in Polymer Handbook (4th edition, 1999); soft PVC by makers'
#: tables of tubing; all from memory. `other` is what no vapour in it exceeds by much: a judgement.
PERMEABILITY: dict[str, dict[str, float]] = {
    "silicone rubber": {
        "helium": 350, "hydrogen": 660, "nitrogen": 280, "oxygen": 800, "argon": 600,
        "carbon monoxide": 340, "carbon dioxide": 3250, "nitric oxide": 600,
        "nitrous oxide": 4350, "nitrogen dioxide": 7600, "sulfur dioxide": 15000,
        "hydrogen sulfide": 10000, "ammonia": 5900, "water": 36000, "methane": 950,
        "ethane": 2500, "ethylene": 1350, "acetylene": 26400, "propane": 4100, "butane": 9000,
        "methanol": 13900, "phosgene": 1500, "carbon disulfide": 9000, "other": 40000,
    },
    "natural rubber": {
        "helium": 31, "hydrogen": 49, "nitrogen": 9.4, "oxygen": 23.3, "argon": 23,
        "carbon monoxide": 15.7, "carbon dioxide": 153, "methane": 30, "acetylene": 102,
        "water": 2290, "other": 5000,
    },
    "chloroprene rubber": {
        "helium": 5, "hydrogen": 13.6, "nitrogen": 1.2, "oxygen": 4.0, "argon": 3.8,
        "carbon dioxide": 25.8, "methane": 3.3, "water": 910, "other": 1500,
    },
    "butyl rubber": {
        "helium": 8.4, "hydrogen": 7.2, "nitrogen": 0.33, "oxygen": 1.3, "carbon dioxide": 5.2,
        "methane": 0.8, "water": 110, "other": 500,
    },
    "NBR": {
        "helium": 12, "hydrogen": 16, "nitrogen": 1.1, "oxygen": 3.9, "carbon dioxide": 31,
        "methane": 3.2, "acetylene": 25, "water": 1000, "other": 2000,
    },
    "EPDM": {
        "helium": 25, "hydrogen": 45, "nitrogen": 8, "oxygen": 25, "carbon dioxide": 108,
        "water": 1500, "other": 3000,
    },
    "FKM": {
        "helium": 17, "hydrogen": 11, "nitrogen": 0.44, "oxygen": 1.5, "carbon dioxide": 7.8,
        "water": 52, "other": 200,
    },
    "PTFE": {
        "helium": 40, "hydrogen": 14, "nitrogen": 1.4, "oxygen": 4.9, "carbon dioxide": 12,
        "methane": 1, "water": 17, "other": 50,
    },
    "polyethylene": {
        "helium": 5, "hydrogen": 12, "nitrogen": 1, "oxygen": 2.9, "carbon monoxide": 1.5,
        "carbon dioxide": 12.6, "methane": 2.9, "propane": 9.4, "sulfur dioxide": 21,
        "water": 90, "other": 500,
    },
    "PVC": {
        "helium": 14, "hydrogen": 14, "nitrogen": 4, "oxygen": 8, "carbon dioxide": 36,
        "water": 300, "other": 500,
    },
}  # fmt: skip
#: Polymers that let no more through than another one of the table.
AS: dict[str, str] = {
    "PFA": "PTFE", "FEP": "PTFE", "ETFE": "PTFE", "PVDF": "PTFE", "PCTFE": "PTFE", "FFKM": "PTFE",
    "PEEK": "PTFE", "polypropylene": "polyethylene", "polycarbonate": "PVC",
    "nylon tube": "polyethylene", "polyurethane tube": "NBR", "polyethylene terephthalate": "PVC",
}  # fmt: skip

#: Heat of activation at the high end, J/mol: rubbers and plastics have 10 to 45 kJ/mol (Polymer
#: Handbook, from memory). Colder than 25 degC earns no credit.
ACTIVATION = 45e3


def permeability(polymer: str, gas: str) -> float:
    """Permeability at 25 degC, mol m/(m2 s Pa), of the nearest that is known, which is never less.

    polymer, gas: names of the reference data. A polymer without figures counts as silicone rubber,
    the most permeable of all, a gas without one as `other`.

    >>> f"{permeability('silicone rubber', 'hydrogen') / BARRER:.0f}"
    '660'
    >>> permeability("FEP", "oxygen") == permeability("PTFE", "oxygen")
    True

    Source: [1] the table above.
    """
    table = PERMEABILITY.get(AS.get(polymer, polymer), PERMEABILITY["silicone rubber"])
    return table.get(gas, table["other"]) * BARRER


def permeance(
    permeability: ArrayLike,
    bore: ArrayLike,
    wall: ArrayLike,
    length: ArrayLike,
    temperature: ArrayLike,
) -> FloatArray:
    """What passes through the wall of a hose per difference of partial pressure, mol/(s Pa).

    S = 2 pi P L / ln(1 + 2 w / d) exp(E / R (1 / 298.15 K - 1 / T)), the last factor at least 1

    permeability P mol m/(m2 s Pa) at 25 degC; bore d, wall w, length L m; temperature T K; any
    shapes that broadcast. Valid: steady, which a wall of 2 mm reaches within the hour; before
    that less passes. Too much when warm, which is the hazardous side.

    >>> f"{permeance(600 * BARRER, 7e-3, 2e-3, 1.0, 298.15):.2e}"
    '2.79e-12'

    Source: [1] Crank, The Mathematics of Diffusion (1975), 5.2, hollow cylinder.
    """
    warm = np.exp(ACTIVATION / R * (1 / 298.15 - 1 / np.maximum(number(temperature), 298.15)))
    shape = 2 * np.pi * number(length) / np.log1p(2 * number(wall) / number(bore))
    found = number(permeability) * shape * warm
    return keep_nan(found, permeability, bore, wall, length, temperature)


def let_in(
    permeance: ArrayLike,
    outside: ArrayLike,
    flow: ArrayLike,
    held: ArrayLike,
    time: ArrayLike,
    pressure: ArrayLike,
) -> FloatArray:
    """Mole fraction of what comes in through hoses from the air, in gas that flows or stands.

    flowing: S p / (n' + S p);  standing: (p / P) (1 - exp(-S P t / n))

    permeance S mol/(s Pa); outside p Pa, its partial pressure in the room; flow n' mol/s; held n
    mol of gas and time t s for which it stands where nothing flows; pressure P Pa; any shapes that
    broadcast.
    Valid: none of it in the gas before, none used up.

    >>> f"{let_in(3e-12, 21e3, 6.9e-5, 1e-3, 3600.0, 1e5):.1e}"
    '9.1e-04'
    >>> f"{let_in(3e-12, 21e3, 0.0, 1.6e-3, 3600.0, 1e5):.3f}"
    '0.103'

    Source: [1] mass balance.
    """
    comes, flow = number(permeance) * number(outside), number(flow)
    with np.errstate(divide="ignore", invalid="ignore"):
        moving = comes / (flow + comes)
        rate = number(permeance) * number(pressure) / number(held)
        still = number(outside) / number(pressure) * -np.expm1(-rate * number(time))
    still = np.where(comes == 0, 0.0, still)
    found = np.where(flow > 0, moving, still)
    return keep_nan(found, permeance, outside, flow, held, time, pressure)
