"""Scalars, arrays, NaN and empty arrays through every public physics function."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import review.physics

# Typical inputs; a list is an axis of species, volumes … in front of the trials.
#: What speaks of a substance by its name or formula is no function of arrays alone.
BY_NAME = {
    "columns.alike",  # it takes bits, not figures
    "columns.differing",
    "columns.marks",
    "meters.thermal_conversion",
    "openings.diffusion_volume",
    "burning.internal_energy",
    "dew.acid_dew_point",
    "permeation.permeability",
}
TYPICAL: dict[str, dict[str, Any]] = {
    "openings.plume_flow": {"buoyancy": 1e-5, "height": 0.5},
    "mixtures.cloud_radius": {"vapour": 1e-4, "air_speed": 0.1},
    "permeation.permeance": {
        "permeability": 2e-13,
        "bore": 7e-3,
        "wall": 2e-3,
        "length": 1.0,
        "temperature": 320.0,
    },
    "permeation.let_in": {
        "permeance": 3e-12,
        "outside": 2.1e4,
        "flow": 1e-5,
        "held": 1e-3,
        "time": 600.0,
        "pressure": 1e5,
    },
    "gas.amount": {"pressure": 1e5, "volume": 1e-3, "temperature": 300.0},
    "gas.density": {"pressure": 1e5, "temperature": 300.0, "molar_mass": 0.028},
    "gas.lucas_viscosity": {
        "temperature": 300.0,
        "critical_temperature": 33.1,
        "critical_pressure": 1.3e6,
        "molar_mass": 0.002,
        "quantum_parameter": 0.76,
    },
    "gas.eucken_conductivity": {"viscosity": 1.8e-5, "heat_capacity": 29.1, "molar_mass": 0.028},
    "gas.drawn_in_fraction": {"temperature": 300.0, "hot_temperature": 900.0},
    "gas.float_meter_correction": {
        "rate": 1e-5,
        "calibration_molar_mass": 0.029,
        "gas_molar_mass": 0.002,
        "calibration_temperature": 293.0,
        "calibration_pressure": 1e5,
        "gas_temperature": 300.0,
        "gas_pressure": 1.1e5,
    },
    "gas.mixing_residual": {
        "volume_flow": 1e-5,
        "time": 60.0,
        "volume": 1e-3,
        "mixing_factor": 0.25,
    },
    "gas.swept_volume": {
        "volumes": [1e-3, 2e-3], "flows": [2e-5, 1e-5], "flow": 1e-5,
    },
    "openings.diffusivity_in_air": {
        "temperature": 400.0,
        "pressure": 1e5,
        "molar_mass": 2e-3,
        "volume": 6.1,
    },
    "mixtures.limit_flame_temperature": {
        "lower_limit": 0.044, "heat_of_combustion": 802.6e3, "carbon": 1.0, "hydrogen": 4.0,
        "other": 0.0, "oxygen_demand": 2.0,
    },
    "mixtures.lower_limit_in_noble_gas": {"limit": 0.044, "noble_share": 0.5},
    "mixtures.upper_limit_in_noble_gas": {"limit": 0.15, "noble_share": 0.5},
    "mixtures.burning_length": {
        "volume": 1e-4,
        "share": 20.0,
        "mass": 16.0,
        "bore": 4e-3,
        "viscosity": 1.5e-5,
    },
    "openings.back_diffused": {"velocity": 1e-3, "length": 0.1, "diffusivity": 7e-5},
    "openings.gravity_exchange": {"bore": 0.02, "density": 0.1, "air_density": 1.2},
    "openings.wind_pressure": {"speed": 20.0, "density": 1.2},
    "openings.blown_in": {"gust": 250.0, "pressure": 1e5, "volume": 1e-3},
    "flow.reynolds": {"density": 1.2, "velocity": 1.0, "diameter": 0.01, "viscosity": 1.8e-5},
    "flow.downstream_pressure": {"upstream_pressure": 1e5, "loss": 2e4},
    "flow.line_loss": {
        "velocity": 1.0,
        "density": 1.2,
        "viscosity": 1.8e-5,
        "diameter": 0.005,
        "length": 1.0,
        "roughness": 1e-5,
        "minor_losses": 1.5,
    },
    "flow.ergun": {
        "superficial_velocity": 0.1,
        "density": 1.2,
        "viscosity": 1.8e-5,
        "voidage": 0.4,
        "particle_diameter": 1e-3,
        "length": 0.1,
    },
    "flow.dip_head": {"liquid_density": 998.0, "depth": 0.05},
    "flow.upstream_pressure": {
        "downstream_pressure": 1e5,
        "loss": 1e4,
        "velocity": 10.0,
        "density": 1.2,
    },
    "air.air_viscosity": {"temperature": 300.0},
    "air.air_conductivity": {"temperature": 300.0},
    "air.air_rayleigh": {
        "surface_temperature": 400.0,
        "ambient_temperature": 293.0,
        "size": 0.02,
    },
    "heat.churchill_chu_horizontal_cylinder": {"rayleigh": 1e5, "prandtl": 0.7},
    "heat.radiation_coefficient": {
        "emissivity": 0.9,
        "surface_temperature": 400.0,
        "ambient_temperature": 293.0,
    },
    "heat.outer_coefficient": {
        "surface_temperature": 400.0,
        "ambient_temperature": 293.0,
        "diameter": 0.02,
        "emissivity": 0.9,
    },
    "heat.still_air": {
        "surface": 400.0,
        "ambient": 293.0,
        "diameter": 0.02,
        "emissivity": 0.9,
    },
    "heat.entrance_nusselt": {"graetz": 20.0},
    "heat.wall_cooling_time": {
        "thickness": 1e-3,
        "hot": 700.0,
        "ambient": 293.0,
        "capacity": 1.8e6,
        "convection": 10.0,
        "emissivity": 0.9,
    },
    "heat.disk_view": {"distance": 0.1, "diameter": 0.02},
    "heat.bare_end": {
        "length": 0.1,
        "hot": 873.0,
        "ambient": 293.0,
        "gas_capacity_flow": 0.01,
        "gas_conductivity": 0.05,
        "bore": 0.016,
        "outer_diameter": 0.02,
        "wall_conductivity": 2.8,
        "emissivity": 0.9,
    },
    "heat.fin_temperature": {
        "distance": 0.05,
        "base": 873.0,
        "ambient": 293.0,
        "coefficient": 12.0,
        "perimeter": 0.07,
        "conductivity": 1.4,
        "area": 2e-4,
        "length": 0.3,
    },
    "heat.cooling_line": {
        "distance": 0.05,
        "length": 0.3,
        "gas_in": 873.0,
        "wall_in": 800.0,
        "ambient": 293.0,
        "gas_capacity_flow": 0.1,
        "inner_coefficient": 9.0,
        "inner_perimeter": 0.06,
        "outer_coefficient": 12.0,
        "outer_perimeter": 0.07,
        "wall_conductivity": 1.4,
        "wall_area": 2e-4,
    },
    "vessel.thick_wall_rating": {"stress": 7e6, "inner_diameter": 0.01, "outer_diameter": 0.02},
    "vessel.flat_plate_rating": {
        "stress": 7e6,
        "radius": 0.03,
        "thickness": 3e-3,
        "poisson_ratio": 0.2,
    },
    "vessel.plugged_rise": {
        "molar_rate": 1e-4,
        "volumes": [1e-3, 2e-3],
        "temperatures": [300.0, 900.0],
    },
    "vessel.tube_buckling_pressure": {
        "youngs_modulus": 64e9,
        "poisson_ratio": 0.2,
        "wall": 1e-3,
        "diameter": 0.05,
        "knock_down": 0.3,
    },
    "room.well_mixed_rise": {
        "time": 600.0,
        "emission": 1e-5,
        "airflow": 0.1,
        "volume": 50.0,
        "mixing_factor": 3.0,
        "start": 1e-5,
        "background": 1e-6,
    },
    "room.interzonal_airflow": {"radius": 0.5, "air_speed": 0.1},
    "room.two_zone_rise": {
        "time": 600.0,
        "emission": 1e-6,
        "airflow": 0.1,
        "interzonal": 0.05,
        "room_volume": 50.0,
        "near_volume": 0.3,
        "start_near": 1e-5,
        "start_far": 1e-6,
    },
    "room.two_zone_time": {
        "limit": 1e-5,
        "emission": 1e-6,
        "airflow": 0.1,
        "interzonal": 0.05,
        "room_volume": 50.0,
        "near_volume": 0.3,
        "start_near": 1e-6,
        "start_far": 1e-7,
    },
    "burning.burnt_temperature": {
        "heat": 4e4,
        "triatomic": 0.2,
        "noble": 0.1,
        "start": 300.0,
    },
    "burning.explosion_ratio": {"heat": 4e4, "triatomic": 0.2, "noble": 0.1, "start": 300.0},
    "burning.detonation_ratio": {"ratio": 8.0},
    "burning.explosion_energy": {"pressure": 9e5, "before": 1e5, "volume": 1e-3},
    "burning.wool_channel": {"fibre": 1e-4, "voidage": 0.8},
    "burning.bead_channel": {"particle": 1e-3},
    "burning.mesh_opening": {"wires": 1100.0, "wire": 2e-4},
    "burning.quenching_at": {"distance": 2e-3, "temperature": 400.0, "pressure": 2e5},
    "burning.run_up": {"bore": 0.01, "fierce": 1.0},
    "room.additive_index": {"concentrations": [5.0, 2.0], "limits": [10.0, 20.0]},
    "liquids.driving_pressure": {"vapour_pressure": 1e4, "pressure": 1e5},
    "liquids.pool_evaporation": {
        "air_speed": 0.5,
        "molar_mass": 0.078,
        "area": 0.01,
        "vapour_pressure": 1e4,
        "temperature": 293.0,
    },
    "liquids.stefan_diffusion": {
        "diffusivity": 1e-5,
        "pressure": 1e5,
        "area": 1e-3,
        "temperature": 293.0,
        "depth": 0.1,
        "driving": 1e4,
    },
    "liquids.heat_of_vaporisation": {
        "boiling_point": 353.0,
        "critical_temperature": 562.0,
        "critical_pressure": 49e5,
        "temperature": 340.0,
    },
    "liquids.boil_off": {"heat": 100.0, "heat_of_vaporisation": 40e3},
    "liquids.expansion_ratio": {
        "density": 806.0,
        "molar_mass": 0.028,
        "temperature": 293.0,
        "pressure": 1e5,
    },
    "liquids.ice_volume": {"volume": 1e-3},
    "liquids.wall_capture": {"diffusivity": 1e-5, "length": 0.1, "volume_flow": 1e-5},
    "room.displaced_oxygen": {"share": 0.1, "own": 0.0},
    "liquids.saturated_liquid_density": {
        "temperature": 77.0,
        "molar_mass": 0.028,
        "critical_temperature": 126.0,
        "critical_pressure": 34e5,
    },
    "liquids.flash_vapour": {"fractions": [0.5, 0.5], "ratios": [2.0, 0.5]},
    "liquids.spill_area": {"volume": 1e-3, "least_depth": 1e-3, "most": 0.5},
    "liquids.time_until_gone": {"amount": 1.0, "rate": 0.5},
    "statics.tipping_angle": {"half_width": 0.1, "height": 0.4},
    "mixtures.limit_ratio": {"fractions": [0.01, 0.02], "limits": [0.04, 0.05]},
    "mixtures.burgess_wheeler_lower": {
        "limit": 0.05,
        "temperature": 500.0,
        "slope": 7.21e-4,
        "floor": 0.1,
    },
    "mixtures.burgess_wheeler_upper": {"limit": 0.15, "temperature": 500.0, "slope": 7.21e-4},
    "mixtures.nitrogen_equivalent_fuel": {
        "fuel_fractions": [0.05, 0.02],
        "inert_fractions": [0.9, 0.03],
        "coefficients": [0.55, 1.0],
    },
    "mixtures.iso10156_ratio": {
        "fuel_fractions": [0.05, 0.02],
        "tci": [0.055, 0.09],
        "inert_fractions": [0.9, 0.03],
        "coefficients": [0.55, 1.0],
    },
    "mixtures.adjusted_tube_loc": {"limiting_oxygen": 0.12},
    "mixtures.upper_boundary": {"oxygen": 0.3, "upper_air": 0.15, "upper_oxygen": 0.61},
}

RUNS = 5


def public_functions() -> dict[str, Callable[..., Any]]:
    found = {}
    for info in pkgutil.iter_modules(review.physics.__path__):
        if info.name.startswith("_"):
            continue
        module = importlib.import_module(f"review.physics.{info.name}")
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if not name.startswith("_") and function.__module__ == module.__name__:
                found[f"{info.name}.{name}"] = function
    return found


FUNCTIONS = public_functions()


def outputs(name: str, inputs: dict[str, Any]) -> list[np.ndarray]:
    result = FUNCTIONS[name](**inputs)
    parts = result if isinstance(result, tuple) else (result,)
    arrays = [np.asarray(part) for part in parts]
    assert all(array.dtype == np.float64 for array in arrays)
    return arrays


def repeated(value: Any, runs: int) -> Any:
    """The same value for every run, in the last axis."""
    base = np.asarray(value, dtype=np.float64)
    return np.repeat(base[..., None], runs, axis=-1)


def test_every_function_has_typical_inputs_for_every_argument() -> None:
    assert set(TYPICAL) == set(FUNCTIONS) - BY_NAME
    for name, inputs in TYPICAL.items():
        given = inspect.signature(FUNCTIONS[name]).parameters.values()
        # A switch that is on or off is no array.
        arrays = {each.name for each in given if not isinstance(each.default, bool)}
        assert set(inputs) == arrays, name


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", TYPICAL)
def test_scalar(name: str) -> None:
    for result in outputs(name, TYPICAL[name]):
        assert result.ndim <= 1
        assert np.isfinite(result).all()


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", TYPICAL)
def test_array_gives_the_scalar_for_each_run(name: str) -> None:
    alone = outputs(name, TYPICAL[name])
    inputs = {key: repeated(value, RUNS) for key, value in TYPICAL[name].items()}
    for single, many in zip(alone, outputs(name, inputs), strict=True):
        assert many.shape == (*single.shape, RUNS)
        np.testing.assert_allclose(many, repeated(single, RUNS), rtol=1e-12)


@pytest.mark.parametrize("name", TYPICAL)
def test_one_argument_as_array_broadcasts(name: str) -> None:
    alone = outputs(name, TYPICAL[name])
    for key, value in TYPICAL[name].items():
        for single, many in zip(
            alone, outputs(name, TYPICAL[name] | {key: repeated(value, RUNS)}), strict=True
        ):
            assert many.shape == (*single.shape, RUNS), key
            np.testing.assert_allclose(many, repeated(single, RUNS), rtol=1e-12)


@pytest.mark.parametrize("name", TYPICAL)
def test_nan_in_any_argument_gives_nan_there_and_only_there(name: str) -> None:
    alone = outputs(name, TYPICAL[name])
    for key in TYPICAL[name]:
        inputs = {k: repeated(value, RUNS) for k, value in TYPICAL[name].items()}
        inputs[key][..., 2] = np.nan
        for single, many in zip(alone, outputs(name, inputs), strict=True):
            assert np.isnan(many[..., 2]).all(), key
            others = np.delete(many, 2, axis=-1)
            np.testing.assert_allclose(others, repeated(single, RUNS - 1), rtol=1e-12)


@pytest.mark.parametrize("name", TYPICAL)
def test_no_runs_give_no_results(name: str) -> None:
    inputs = {key: repeated(value, 0) for key, value in TYPICAL[name].items()}
    for result in outputs(name, inputs):
        assert result.shape[-1] == 0
