"""Lean mixtures judged by equilibrium flames: does the check call outside what would burn?

Mixtures of hydrogen, methane, carbon monoxide, propane, ethylene and ammonia with oxygen and any of
nitrogen, argon, helium, carbon dioxide and steam at 25 to 500 degC are drawn from a start number. A
mixture counts as one that burns where its flame at constant pressure is as hot as the flames of its
fuels at their own lowest published limits in air, weighted as by Le Chatelier; hydrogen's weak
flames are taken as 1000 K, one-sided.

    python -m tests.judges.lean_mixtures [NUMBER] [START NUMBER]

Of 4,000 (start number 1) 2,011 burned; none of them was called outside by more than 0.1. Of 918
that stayed 100 K below, without hydrogen, 4 were called inside by more than 0.2.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from review.plugins.shared.fuels import limits_of, noble_share

from review import Reference
from review.physics.mixtures import burgess_wheeler_lower, lower_limit_in_noble_gas

#: Flame at the fuel's lowest published limit in air, K.
FLAMES = {"methane": 1355.0, "carbon monoxide": 1260.0, "propane": 1325.0, "ethylene": 1225.0,
          "ammonia": 1500.0, "hydrogen": 1000.0}  # fmt: skip
REST = ("nitrogen", "argon", "helium", "carbon dioxide", "water")
NAMES = {"hydrogen": "H2", "methane": "CH4", "carbon monoxide": "CO", "propane": "C3H8",
         "ethylene": "C2H4", "ammonia": "NH3", "oxygen": "O2", "nitrogen": "N2", "argon": "AR",
         "helium": "HE", "carbon dioxide": "CO2", "water": "H2O"}  # fmt: skip


@cache
def reference() -> Reference:
    return Reference()


@dataclass(frozen=True)
class Mixture:
    """Mole fractions by name, and the temperature it starts from, K."""

    gas: dict[str, float]
    start: float

    @property
    def fuels(self) -> dict[str, float]:
        return {name: x for name, x in self.gas.items() if name in FLAMES}


def drawn(number: int, start_number: int) -> list[Mixture]:
    """Lean mixtures with enough oxygen for the fuel, a fifth of them without other fuels."""
    rng = np.random.default_rng(start_number)
    found: list[Mixture] = []
    demand = {f: reference().substance(f).number("oxygen_demand") for f in FLAMES}
    lower = {f: reference().substance(f).number("lower_limit_air") for f in FLAMES}
    while len(found) < number:
        fuels = rng.choice(list(FLAMES), size=rng.integers(1, 4), replace=False)
        parts = rng.dirichlet(np.ones(fuels.size)) * rng.uniform(0.3, 1.4)
        gas = {str(f): float(p * lower[str(f)]) for f, p in zip(fuels, parts, strict=True)}
        rest = rng.choice(REST, size=rng.integers(1, 4), replace=False)
        oxygen = rng.uniform(0.12, 0.5)
        left = 1 - sum(gas.values()) - oxygen
        if oxygen < 1.2 * sum(demand[f] * x for f, x in gas.items()) or left <= 0:
            continue
        for name, share in zip(rest, rng.dirichlet(np.ones(rest.size)), strict=True):
            gas[str(name)] = float(share * left)
        gas["oxygen"] = float(oxygen)
        found.append(Mixture(gas, float(rng.uniform(298.15, 773.15))))
    return found


def reached(mixture: Mixture) -> float:
    """Fuel over the lower limit that the check works with; below 1 it is outside, too lean."""
    species = [reference().substance(name) for name in mixture.gas]
    limits = limits_of(species)
    content: NDArray[np.float64] = np.array([[x] for x in mixture.gas.values()])
    hot = burgess_wheeler_lower(limits.lower, mixture.start, limits.slope)
    hot = lower_limit_in_noble_gas(hot, noble_share(content, limits))
    return float(sum(content[row, 0] / hot[n] for n, row in enumerate(limits.rows)))


def excess(mixture: Mixture, gas: Any) -> float:
    """How much hotter its flame is than what it needs to burn, K."""
    gas.TPX = mixture.start, 101325.0, {NAMES[n]: x for n, x in mixture.gas.items()}
    gas.equilibrate("HP")
    shares = {f: x / reference().substance(f).number("lower_limit_air")
              for f, x in mixture.fuels.items()}  # fmt: skip
    needed = sum(FLAMES[f] * s for f, s in shares.items()) / sum(shares.values())
    return float(gas.T - needed)


@dataclass(frozen=True)
class Judged:
    """How the check compares with the judge."""

    burn: int
    """Mixtures that burn."""
    missed: list[str]
    """Those of them that the check calls outside by more than 0.1, in words."""
    cold: int
    """Mixtures without hydrogen that stay 100 K below what they need."""
    inside: int
    """Those of them that the check calls inside by more than 0.2."""


def judged(number: int, start_number: int) -> Judged:
    """Draw mixtures and ask both."""
    import cantera as ct

    solution = ct.Solution(thermo="ideal-gas", species=_species(ct))
    burn, missed, cold, inside = 0, [], 0, 0
    for mixture in drawn(number, start_number):
        over, ratio = excess(mixture, solution), reached(mixture)
        burn += over > 0
        if over > 0 and 1 - ratio > 0.1:
            missed.append(f"{mixture}: {over:.0f} K above, ratio {ratio:.2f}")
        if over < -100 and "hydrogen" not in mixture.gas:
            cold += 1
            inside += ratio > 1.2
    return Judged(burn, missed, cold, inside)


def _species(ct: Any) -> list[Any]:
    """The gases of the mixtures and what burnt lean gas consists of."""
    wanted = {*NAMES.values(), "OH", "NO", "H", "O"} - {"HE"}
    found = {s.name: s for s in ct.Species.list_from_file("gri30.yaml")}
    kept = [found[name] for name in wanted]
    helium = ct.Species("HE", "He:1")
    helium.thermo = found["AR"].thermo
    return [*kept, helium]


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    found = judged(count, first)
    print(*found.missed[:20], sep="\n")
    print(
        f"of {count} mixtures {found.burn} burn, {len(found.missed)} of them called outside by "
        f"more than 0.1; {found.cold} stay 100 K too cold, {found.inside} of them called inside "
        "by more than 0.2"
    )
