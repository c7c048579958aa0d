"""Looks up a substance no file describes in the data sets of the `chemicals` library.

The library is imported only here. Every figure carries its data set's name and ``how="library"``;
where data sets differ the hazardous one is taken and the spread kept. Nothing is estimated.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from typing import Any

from review.reference.data import Curve, Datum, Substance, UnknownName, parse_formula
from review.reference.properties import SUBSTANCE_CURVES, SUBSTANCE_PROPERTIES


def _worst(
    cas: str, unit: str, methods: Callable[..., Any], get: Callable[..., Any], lowest: bool = True
) -> Datum:
    found = [(get(CASRN=cas, method=m), m) for m in methods(CASRN=cas)]
    if found and isinstance(found[0][0], tuple):
        found = [(v[0] * 1e-6, m) for v, m in found if v[1] == "ppm"]
    found = [(float(v), m) for v, m in found if v is not None]
    if not found:
        return Datum(None, unit, state="unknown")
    values = [v for v, _ in found]
    value, method = min(found) if lowest else max(found)
    return Datum(
        value,
        unit,
        f"chemicals data set {method}",
        "library",
        (min(values), max(values)) if len(set(values)) > 1 else None,
    )


def _first(cas: str, unit: str, methods: Callable[..., Any], get: Callable[..., Any]) -> Datum:
    # an open list of notebooks melts sulfur at 13 degC: the handbook of the CRC goes first
    for method in sorted(methods(cas), key=lambda m: not m.startswith("CRC_")):
        value = get(cas, method=method)
        if value is not None and method != "JOBACK":  # Joback is an estimate, not data
            return Datum(float(value), unit, f"chemicals data set {method}", "library")
    return Datum(None, unit, state="unknown")


#: Names of mixtures and polymers under which the library has one compound: petrol is no benzene.
MISTAKEN = re.compile(r"^(?:benzine?|poly.*)$", re.I)


@cache
def _compounds() -> Any:
    """The library's smaller lists, our own: whoever else loads the large one changes no answer."""
    from chemicals.identifiers import ChemicalMetadataDB

    return ChemicalMetadataDB(main_db=None)  # type: ignore[no-untyped-call]


def _compound(cas_or_name: str) -> Any:
    """The library's entry under a CAS number or a name, None without one.

    Formulas and what might be one are not searched: most fit several substances, and the library
    takes Hf for hydrogen fluoride. Nor is its list of all compounds, which takes seconds to load.
    """
    from chemicals import CAS_to_int

    compounds, text = _compounds(), cas_or_name.strip()
    if re.fullmatch(r"\d{2,7}-\d\d-\d", text):
        return compounds.search_CAS(CAS_to_int(text), autoload=False) or None
    with suppress(ValueError):
        parse_formula(text)
        return None
    if MISTAKEN.match(text):
        return None
    return (len(text) > 3 and compounds.search_name(text.lower(), autoload=False)) or None


def _readable(formula: str) -> bool:
    """Whether a formula is that of a substance: an ion is none, and has a charge in it."""
    with suppress(ValueError):
        return bool(parse_formula(formula))
    return False


def look_up(cas_or_name: str) -> Substance:
    """A substance from the library's data sets; flags it does not hold are None.

    `combustible` is True where a data set lists a flammability limit or autoignition temperature
    and None otherwise. UnknownName where the library knows no such substance.
    """
    import chemicals
    from chemicals import safety

    known = _compound(cas_or_name)
    if known is None or not _readable(known.formula):
        raise UnknownName("substance", cas_or_name, ())
    cas = known.CASs
    properties = {n: Datum(None, p.unit, state="unknown") for n, p in SUBSTANCE_PROPERTIES.items()}
    properties["molar_mass"] = Datum(
        known.MW / 1e3, "kg/mol", "chemicals data set of compounds", "library"
    )
    for name, methods, get, lowest in (
        ("lower_limit_air", safety.LFL_methods, safety.LFL, True),
        ("upper_limit_air", safety.UFL_methods, safety.UFL, False),
        ("autoignition", safety.T_autoignition_methods, safety.T_autoignition, True),
        ("flash_point", safety.T_flash_methods, safety.T_flash, True),
        ("limit_8_hour", safety.TWA_methods, safety.TWA, True),
        ("limit_short_term", safety.STEL_methods, safety.STEL, True),
        ("limit_ceiling", safety.Ceiling_methods, safety.Ceiling, True),
    ):
        properties[name] = _worst(cas, SUBSTANCE_PROPERTIES[name].unit, methods, get, lowest)
    for name, methods, get in (
        ("boiling_point", chemicals.Tb_methods, chemicals.Tb),
        ("melting_point", chemicals.Tm_methods, chemicals.Tm),
        ("critical_temperature", chemicals.Tc_methods, chemicals.Tc),
        ("critical_pressure", chemicals.Pc_methods, chemicals.Pc),
    ):
        properties[name] = _first(cas, SUBSTANCE_PROPERTIES[name].unit, methods, get)
    curves = {n: Curve("", (), 0.0, 0.0, state="unknown") for n in SUBSTANCE_CURVES}
    curves["vapour_pressure"] = _vapour_pressure(cas) or curves["vapour_pressure"]
    curves["heat_capacity_gas"] = _heat_capacity(cas) or curves["heat_capacity_gas"]
    burns = properties["lower_limit_air"].value or properties["autoignition"].value
    return Substance(
        name=known.common_name.lower(),
        cas=cas,
        formula=known.formula,
        synonyms=(),
        combustible=True if burns else None,
        oxidiser=None,
        inert=None,
        burns_without_oxygen=None,
        pyrophoric=None,
        phase_at_20C=_phase(properties),
        skin_corrosion="unknown",
        skin_corrosion_source="none",
        hazard_statements=None,
        hazard_statements_source="",
        classes=None,
        classes_source="",
        looked_up=True,
        properties=properties,
        curves=curves,
    )


def _phase(properties: dict[str, Datum]) -> str:
    boiling, melting = properties["boiling_point"].value, properties["melting_point"].value
    if boiling is not None and boiling <= 293.15:
        return "gas"
    if melting is not None and melting > 293.15:
        return "solid"
    return "unknown" if boiling is None else "liquid"


def _vapour_pressure(cas: str) -> Curve | None:
    from chemicals import vapor_pressure

    perry = vapor_pressure.Psat_data_Perrys2_8
    if cas not in perry.index:
        return None
    row = perry.loc[cas]
    numbers = tuple(float(row[c]) for c in ("C1", "C2", "C3", "C4", "C5"))
    return Curve(
        "dippr101",
        numbers,
        float(row["Tmin"]),
        float(row["Tmax"]),
        "chemicals data set Perry's 8th ed. Table 2-8",
        "library",
    )


def _heat_capacity(cas: str) -> Curve | None:
    from chemicals import heat_capacity

    poling = heat_capacity.Cp_data_Poling
    if cas not in poling.index or poling.loc[cas].isna()["a0"]:
        return None
    row = poling.loc[cas]
    numbers = tuple(float(row[c]) for c in ("a0", "a1", "a2", "a3", "a4"))
    return Curve(
        "polynomial",
        numbers,
        float(row["Tmin"]),
        float(row["Tmax"]),
        "chemicals data set Poling",
        "library",
    )
