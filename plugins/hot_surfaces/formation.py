"""Heats of declared reactions: of gases from the reference data, of solids from tables here."""

from __future__ import annotations

from collections.abc import Mapping

from review import Reference

#: What the reference data give no heat of combustion for, and solids as ``CuO(s)``: heat of
#: formation at 298 K, kJ/mol, and atoms of C, H and S. CODATA Key Values (1989), NIST-JANAF (1998)
#: and the CRC Handbook, all from memory, rounded to what they agree on.
FORMATION: dict[str, tuple[float, int, int, int]] = {
    "oxygen": (0.0, 0, 0, 0), "nitrogen": (0.0, 0, 0, 0), "argon": (0.0, 0, 0, 0),
    "helium": (0.0, 0, 0, 0), "chlorine": (0.0, 0, 0, 0), "bromine": (30.91, 0, 0, 0),
    "iodine": (62.42, 0, 0, 0), "carbon dioxide": (-393.51, 1, 0, 0),
    "water": (-241.82, 0, 2, 0), "sulfur dioxide": (-296.81, 0, 0, 1),
    "sulfur trioxide": (-395.8, 0, 0, 1), "nitric oxide": (91.3, 0, 0, 0),
    "nitrogen dioxide": (34.2, 0, 0, 0), "nitrous oxide": (82.1, 0, 0, 0),
    "ozone": (142.7, 0, 0, 0), "hydrogen chloride": (-92.31, 0, 1, 0),
    "hydrogen fluoride": (-273.3, 0, 1, 0), "nitric acid": (-133.9, 0, 1, 0),
    "hydrogen peroxide": (-135.9, 0, 2, 0), "phosgene": (-220.1, 1, 0, 0),
    "chloroform": (-102.9, 1, 1, 0), "dichloromethane": (-95.1, 1, 2, 0),
    "C(s)": (0.0, 1, 0, 0), "S(s)": (0.0, 0, 0, 1), "Cu(s)": (0.0, 0, 0, 0),
    "Ni(s)": (0.0, 0, 0, 0), "Fe(s)": (0.0, 0, 0, 0), "Zn(s)": (0.0, 0, 0, 0),
    "Ag(s)": (0.0, 0, 0, 0), "Mg(s)": (0.0, 0, 0, 0), "Al(s)": (0.0, 0, 0, 0),
    "CuO(s)": (-157.3, 0, 0, 0), "Cu2O(s)": (-168.6, 0, 0, 0), "NiO(s)": (-239.7, 0, 0, 0),
    "Fe2O3(s)": (-824.2, 0, 0, 0), "Fe3O4(s)": (-1118.4, 0, 0, 0), "ZnO(s)": (-350.5, 0, 0, 0),
    "MgO(s)": (-601.6, 0, 0, 0), "Al2O3(s)": (-1675.7, 0, 0, 0), "CaO(s)": (-634.9, 0, 0, 0),
    "CaCO3(s)": (-1207.0, 1, 0, 0), "W(s)": (0.0, 0, 0, 0), "WO3(s)": (-842.9, 0, 0, 0),
    "WO2(s)": (-589.7, 0, 0, 0), "Sn(s)": (0.0, 0, 0, 0), "SnO2(s)": (-577.6, 0, 0, 0),
    "Co(s)": (0.0, 0, 0, 0), "Co3O4(s)": (-891.0, 0, 0, 0), "CoO(s)": (-237.9, 0, 0, 0),
    "FeO(s)": (-272.0, 0, 0, 0), "Pb(s)": (0.0, 0, 0, 0), "PbO(s)": (-217.3, 0, 0, 0),
    "MnO(s)": (-385.2, 0, 0, 0), "MnO2(s)": (-520.0, 0, 0, 0), "Mn3O4(s)": (-1387.8, 0, 0, 0),
    "Mo(s)": (0.0, 0, 0, 0), "MoO3(s)": (-745.1, 0, 0, 0), "MoO2(s)": (-588.9, 0, 0, 0),
    "V2O5(s)": (-1550.6, 0, 0, 0), "V2O3(s)": (-1218.8, 0, 0, 0), "CeO2(s)": (-1088.7, 0, 0, 0),
    "TiO2(s)": (-944.0, 0, 0, 0), "SiO2(s)": (-910.7, 0, 0, 0), "Cr2O3(s)": (-1139.7, 0, 0, 0),
    "Ag2O(s)": (-31.1, 0, 0, 0), "ZnCO3(s)": (-812.8, 1, 0, 0), "MgCO3(s)": (-1095.8, 1, 0, 0),
    "Na2CO3(s)": (-1130.7, 1, 0, 0), "NaHCO3(s)": (-950.8, 1, 1, 0), "NaOH(s)": (-425.8, 0, 1, 0),
    "Ca(OH)2(s)": (-985.2, 0, 2, 0),
    # By its hemihydrate (-1311.7, NBS tables) less half a mole of water, which gypsum's loses too.
    "CaSO3(s)": (-1169.5, 0, 0, 1),
}  # fmt: skip

#: Further solids in the same form (CRC Handbook, as the `chemicals` data set has it).
FURTHER: dict[str, tuple[float, int, int, int]] = {
    "FeCl3(s)": (-399.5, 0, 0, 0), "FeCl2(s)": (-341.8, 0, 0, 0), "AlCl3(s)": (-704.2, 0, 0, 0),
    "CuCl2(s)": (-220.1, 0, 0, 0), "CuCl(s)": (-137.2, 0, 0, 0), "ZnCl2(s)": (-415.1, 0, 0, 0),
    "MgCl2(s)": (-641.3, 0, 0, 0), "CaCl2(s)": (-795.4, 0, 0, 0), "NaCl(s)": (-411.2, 0, 0, 0),
    "KCl(s)": (-436.5, 0, 0, 0), "AgCl(s)": (-127.0, 0, 0, 0), "SnCl2(s)": (-325.1, 0, 0, 0),
    "NiCl2(s)": (-305.3, 0, 0, 0), "CoCl2(s)": (-312.5, 0, 0, 0), "NH4Cl(s)": (-314.4, 0, 4, 0),
    "FeS(s)": (-100.0, 0, 0, 1), "CuS(s)": (-53.1, 0, 0, 1), "Cu2S(s)": (-79.5, 0, 0, 1),
    "ZnS(s)": (-206.0, 0, 0, 1), "PbS(s)": (-100.4, 0, 0, 1), "MnS(s)": (-214.2, 0, 0, 1),
    "Ag2S(s)": (-32.6, 0, 0, 1), "MoS2(s)": (-235.1, 0, 0, 2), "CaSO4(s)": (-1434.5, 0, 0, 1),
    "CuSO4(s)": (-771.4, 0, 0, 1), "ZnSO4(s)": (-982.8, 0, 0, 1), "Li2O(s)": (-597.9, 0, 0, 0),
    "Li2CO3(s)": (-1215.9, 1, 0, 0), "K2CO3(s)": (-1151.0, 1, 0, 0), "BaO(s)": (-548.0, 0, 0, 0),
    "BaCO3(s)": (-1213.0, 1, 0, 0), "SrCO3(s)": (-1220.1, 1, 0, 0), "FeCO3(s)": (-740.6, 1, 0, 0),
    "Mn2O3(s)": (-959.0, 0, 0, 0), "In2O3(s)": (-925.8, 0, 0, 0),
    "Cu(OH)2(s)": (-449.8, 0, 2, 0), "Ni(OH)2(s)": (-529.7, 0, 2, 0),
    "Mg(OH)2(s)": (-924.5, 0, 2, 0), "KOH(s)": (-424.6, 0, 1, 0), "Na2SO3(s)": (-1100.8, 0, 0, 1),
    "Na2SO4(s)": (-1387.1, 0, 0, 1), "K2SO4(s)": (-1437.8, 0, 0, 1), "MgSO4(s)": (-1284.9, 0, 0, 1),
    "FeSO4(s)": (-928.4, 0, 0, 1), "BaSO4(s)": (-1473.2, 0, 0, 1), "Na2S(s)": (-364.8, 0, 0, 1),
    "LiCl(s)": (-408.6, 0, 0, 0), "BaCl2(s)": (-855.0, 0, 0, 0), "PbO2(s)": (-277.4, 0, 0, 0),
    "NaBr(s)": (-361.1, 0, 0, 0), "KBr(s)": (-393.8, 0, 0, 0), "ZrO2(s)": (-1100.6, 0, 0, 0),
    "Ba(OH)2(s)": (-944.7, 0, 2, 0),
}  # fmt: skip
FORMATION |= FURTHER

#: Acids as they form in water, in the same form (in much water at 25 degC: CODATA Key Values 1989,
#: nitric acid NBS tables, from memory): where there is less water they give less heat.
DISSOLVED: dict[str, tuple[float, int, int, int]] = {
    "sulfuric acid": (-909.3, 0, 2, 1), "hydrogen chloride": (-167.1, 0, 1, 0),
    "hydrogen bromide": (-121.4, 0, 1, 0), "nitric acid": (-207.4, 0, 1, 0),
}  # fmt: skip

#: Heats of formation of what carbon, hydrogen (per atom) and sulfur burn to, kJ/mol (CODATA).
BURNT = (-393.51, -241.82 / 2, -296.81)


def combustion_enthalpy(name: str, reference: Reference, *, dissolves: bool = False) -> float:
    """Heat set free when a substance goes to CO2, water vapour, SO2 and elements, J/mol.

    Hc of the reference data where it has one, else Hf - n_C Hf(CO2) - n_H/2 Hf(H2O) - n_S Hf(SO2)
    from the tables above: a gas by its name, a solid as ``CuO(s)``, of an acid that `dissolves`
    with the heat that this gives; NaN where none knows it.

    >>> f"{combustion_enthalpy('methane', Reference()) / 1e3:.0f}"
    '803'
    >>> f"{combustion_enthalpy('nitric oxide', Reference()) / 1e3:.1f}"
    '91.3'

    Source: [1] Hess's law; figures as named with each.
    """
    table = DISSOLVED if dissolves and name in DISSOLVED else FORMATION
    if name in table:
        formed, *atoms = table[name]
        return 1e3 * (formed - sum(n * h for n, h in zip(atoms, BURNT, strict=True)))
    if name.endswith("(s)"):
        return float("nan")
    try:
        value = reference.substance(name).datum("heat_of_combustion").value
    except LookupError:
        return float("nan")
    return float("nan") if value is None else value


def reaction_enthalpy(
    coefficients: Mapping[str, float], reference: Reference | None = None
) -> float:
    """Enthalpy of a reaction of gases and solids at 298 K, J per mole of equation as written.

    H = sum nu Hc; negative gives off heat

    coefficients: by substance name, or formula with (s) for a solid; products positive.
    Valid: a balanced equation; ideal gases, water as vapour. NaN where a heat is not known.

    >>> f"{reaction_enthalpy({'hydrogen': -2, 'oxygen': -1, 'water': 2}) / 1e3:.0f}"
    '-484'

    Source: [1] Hess's law.
    """
    known = Reference() if reference is None else reference
    return sum(n * combustion_enthalpy(name, known) for name, n in coefficients.items())
