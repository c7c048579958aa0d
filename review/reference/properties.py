"""The fixed lists of what a reference file says: every property, its unit, its range, its words.

A figure outside the range of its kind is a slip of the pen and no property of matter.
"""

from __future__ import annotations

from typing import NamedTuple

#: Bench unit -> (SI unit, factor, offset added after the factor).
UNITS: dict[str, tuple[str, float, float]] = {
    "%": ("mol/mol", 1e-2, 0.0), "ppm": ("mol/mol", 1e-6, 0.0), "mol/mol": ("mol/mol", 1.0, 0.0),
    "1": ("1", 1.0, 0.0), "K": ("K", 1.0, 0.0), "degC": ("K", 1.0, 273.15),
    "Pa": ("Pa", 1.0, 0.0), "kPa": ("Pa", 1e3, 0.0), "MPa": ("Pa", 1e6, 0.0),
    "GPa": ("Pa", 1e9, 0.0), "bar": ("Pa", 1e5, 0.0), "bar gauge": ("Pa gauge", 1e5, 0.0),
    "m": ("m", 1.0, 0.0), "mm": ("m", 1e-3, 0.0), "J": ("J", 1.0, 0.0), "mJ": ("J", 1e-3, 0.0),
    "kg/m3": ("kg/m3", 1.0, 0.0), "g/mL": ("kg/m3", 1e3, 0.0), "g/mol": ("kg/mol", 1e-3, 0.0),
    "kJ/mol": ("J/mol", 1e3, 0.0), "J/mol": ("J/mol", 1.0, 0.0), "1/K": ("1/K", 1.0, 0.0),
    "1e-6/K": ("1/K", 1e-6, 0.0), "W/(m K)": ("W/(m K)", 1.0, 0.0),
    "m2/s": ("m2/s", 1.0, 0.0), "cm2/s": ("m2/s", 1e-4, 0.0),
}  # fmt: skip


class Property(NamedTuple):
    """SI unit, meaning, and the range (SI, ends included) outside which a figure is refused."""

    unit: str
    meaning: str
    low: float
    high: float


#: Every number a substance file lists.
SUBSTANCE_PROPERTIES: dict[str, Property] = {
    "molar_mass": Property("kg/mol", "molar mass", 1e-3, 2.0),
    "lower_limit_air": Property(
        "mol/mol", "lower flammability limit in air, lowest published", 1e-3, 0.8),
    "upper_limit_air": Property(
        "mol/mol", "upper flammability limit in air, highest published", 5e-3, 1.0),
    "lower_limit_oxygen": Property(
        "mol/mol", "lower flammability limit in oxygen", 1e-3, 0.8),
    "upper_limit_oxygen": Property(
        "mol/mol", "upper flammability limit in oxygen", 1e-2, 1.0),
    "limiting_oxygen_nitrogen": Property(
        "mol/mol", "limiting oxygen, nitrogen as inert, as measured", 1e-2, 0.5),
    "limiting_oxygen_carbon_dioxide": Property(
        "mol/mol", "limiting oxygen, carbon dioxide as inert", 1e-2, 0.5),
    "autoignition": Property(
        "K", "autoignition temperature, lowest published", 230.0, 1500.0),
    "oxygen_demand": Property(
        "mol/mol", "moles of oxygen that one mole takes to burn completely", 0.1, 200.0),
    "flash_point": Property("K", "flash point, lowest published", 100.0, 800.0),
    "maximum_experimental_safe_gap": Property(
        "m", "largest gap that stops a flame, IEC 60079-20-1", 5e-5, 1e-2),
    "quenching_distance": Property(
        "m", "plate distance that quenches a flame, most ignitable mixture", 1e-4, 3e-2),
    "minimum_ignition_energy": Property("J", "smallest spark that ignites", 1e-6, 10.0),
    "iso10156_tci": Property(
        "mol/mol", "largest share in nitrogen that is not flammable in air", 1e-3, 1.0),
    "iso10156_k": Property("1", "inerting strength relative to nitrogen", 0.1, 10.0),
    "oxidising_coefficient": Property(
        "1", "oxidising strength relative to oxygen, ISO 10156 Ci", 0.01, 100.0),
    "boiling_point": Property(
        "K", "normal boiling point (sublimation point where it has none)", 2.0, 6000.0),
    "melting_point": Property("K", "melting point", 0.5, 4500.0),
    "critical_temperature": Property("K", "critical temperature", 2.0, 10000.0),
    "critical_pressure": Property("Pa", "critical pressure", 1e5, 5e8),
    "liquid_density": Property(
        "kg/m3", "density of the liquid at 20 degC (at saturation)", 50.0, 25000.0),
    "heat_of_combustion": Property(
        "J/mol", "heat of combustion of the gas or vapour, water as vapour", 5e4, 5e7),
    "heat_of_combustion_gross": Property(
        "J/mol", "the same with the water condensed", 5e4, 5e7),
    "limit_8_hour": Property("mol/mol", "8-hour exposure limit, lowest published", 1e-12, 0.05),
    "limit_short_term": Property(
        "mol/mol", "15-minute exposure limit, lowest published", 1e-12, 0.1),
    "limit_ceiling": Property("mol/mol", "ceiling exposure limit, lowest published", 1e-12, 0.1),
    "idlh": Property(
        "mol/mol", "immediately dangerous to life or health, lower of the editions", 1e-11, 0.2),
    "aegl_1": Property(
        "mol/mol", "airborne exposure above which people are bothered (AEGL-1)", 1e-12, 0.2),
    "aegl_2": Property(
        "mol/mol", "above which harm may last or flight may fail (AEGL-2)", 1e-12, 0.2),
    "aegl_3": Property("mol/mol", "above which people may die (AEGL-3)", 1e-12, 0.5),
    "decomposes_above": Property(
        "K", "temperature above which it decomposes by itself and gives heat", 200.0, 2000.0),
    "decomposes_above_catalyst": Property(
        "K", "the same over any catalyst, metal or metal oxide not shown inactive", 200.0, 2000.0),
    "decomposition_pressure": Property(
        "Pa", "absolute pressure above which it may decompose at once", 1e3, 1e7),
    "diffusion_in_air": Property(
        "m2/s", "diffusion coefficient in air at 293 K, 1 atm", 1e-7, 2e-4),
}  # fmt: skip

#: Figures stated by minutes of exposure; the `value` of each is the lowest of them.
BY_MINUTES = ("aegl_1", "aegl_2", "aegl_3")

#: Every curve over temperature a substance file lists: name -> (SI unit, meaning).
SUBSTANCE_CURVES: dict[str, tuple[str, str]] = {
    "vapour_pressure": ("Pa", "vapour pressure of the pure liquid or solid; `none`: no vapour"),
    "heat_capacity_gas": ("1", "heat capacity at constant pressure of the ideal gas over R"),
}
SUBSTANCE_FLAGS = ("combustible", "oxidiser", "inert", "burns_without_oxygen", "pyrophoric")
SUBSTANCE_TEXTS: dict[str, tuple[str, ...]] = {
    "phase_at_20C": ("gas", "liquid", "solid"),
    "skin_corrosion": ("1A", "1B", "1C", "none", "unknown"),
}
#: Lists of words, each with `NAME_source` beside it; an empty one is a statement with a source.
SUBSTANCE_LISTS = ("hazard_statements", "classes")

#: Every number a material file lists.
MATERIAL_PROPERTIES: dict[str, Property] = {
    "allowable_stress": Property(
        "Pa", "tensile stress allowed in a pressure part as bought, unharmed", 1e3, 5e8),
    "allowable_stress_home_made": Property(
        "Pa", "the same for home-made, scratched or unknown parts", 1e3, 5e8),
    "youngs_modulus": Property("Pa", "Young's modulus", 1e4, 1e12),
    "poisson": Property("1", "Poisson's ratio", 0.0, 0.5),
    "expansion": Property("1/K", "linear thermal expansion", 1e-8, 1e-3),
    "conductivity": Property("W/(m K)", "thermal conductivity", 5e-3, 2500.0),
    "density": Property("kg/m3", "density", 5.0, 25000.0),
    "emissivity": Property("1", "total hemispherical emissivity", 0.01, 1.0),
    "maximum_temperature": Property(
        "K", "highest temperature for continuous use, lowest published", 273.15, 2800.0),
    "minimum_temperature": Property(
        "K", "lowest temperature of use, highest published", 1.0, 373.15),
}  # fmt: skip
#: Figures of a material that may be stated by degrees Celsius; `value` is the lowest of them.
BY_TEMPERATURE = ("allowable_stress", "allowable_stress_home_made")
MATERIAL_TEXTS: dict[str, tuple[str, ...]] = {
    "kind": ("glass", "ceramic", "polymer", "metal", "wood", "other"),
    "burn_class": ("uncoated_metal", "coated_metal", "ceramic_glass_stone", "plastic", "wood"),
}
MATERIAL_LISTS = ("classes",)
#: Figures of which the first never lies above the second.
ORDERED = (
    ("lower_limit_air", "upper_limit_air"), ("lower_limit_oxygen", "upper_limit_oxygen"),
    ("melting_point", "critical_temperature"), ("aegl_1", "aegl_2"), ("aegl_2", "aegl_3"),
    ("aegl_1", "aegl_3"), ("heat_of_combustion", "heat_of_combustion_gross"),
)  # fmt: skip
JOINT_RATING = Property("Pa gauge", "gauge pressure a joint holds", 100.0, 1e8)
RATINGS = ("resistant", "limited", "not suitable")
HOW = ("read", "library", "memory", "computed", "estimated", "defined")
CURVE_FORMS = {"antoine": 3, "dippr101": 5, "wagner": 6, "polynomial": 5}
