"""Constants of the species of a set-up, and the gas that a flow of them is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from review.interface.items import Gas
from review.interface.measure import FloatArray
from review.physics import gas as gas_physics
from review.reference.finding import Substance


@dataclass(frozen=True, slots=True)
class Properties:
    """Constants of the species as arrays, shape (species,) or (species, coefficients).

    Heat capacities are polynomials of cp/R in T/1000 K, fitted once between 250 and 1500 K.
    """

    species: tuple[Substance, ...]
    molar_masses: FloatArray
    viscosities: FloatArray
    conductivities: FloatArray
    heat_capacities: FloatArray
    diffusion_volumes: FloatArray

    def gas(self, flow: FloatArray, temperature: FloatArray, pressure: FloatArray) -> Gas:
        """The gas of this flow at this state."""
        return Gas(self.species, self.molar_masses, self.viscosities, flow, temperature, pressure)

    def molar_heat(self, temperature: FloatArray | float) -> FloatArray:
        """Heat capacity of each species as a gas, (species, ...), J/(mol K)."""
        held = np.clip(temperature, 250.0, 1500.0)
        powers = (held / 1000.0) ** np.arange(self.heat_capacities.shape[1]).reshape(
            -1, *[1] * np.ndim(held)
        )
        return np.asarray(gas_physics.R * (self.heat_capacities @ powers))

    def heat_capacity_flow(self, flow: FloatArray, temperature: FloatArray) -> FloatArray:
        """Sum of molar flow times molar heat capacity, W/K."""
        molar = self.molar_heat(temperature)
        used = np.where(flow == 0, 0.0, molar * flow)
        return np.asarray(used.sum(axis=0))
