"""The whole data set against chemicals, CoolProp and thermo: nothing is milder without a reason.

`outliers.yaml` says why, figure by figure, where a file does not take a library's value. An entry
that no longer makes a difference fails too.
"""

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import yaml
from chemicals import safety

from review.reference.finding import Reference, vapour_pressure
from review.reference.library import look_up

OUTLIERS = yaml.safe_load((Path(__file__).parent / "outliers.yaml").read_text(encoding="utf-8"))
REFERENCE = Reference()
FILES = tuple(REFERENCE.names("substances"))

#: Property, methods and values of a library's data sets, whether the lowest is the hazardous one.
FIGURES = (
    ("lower_limit_air", safety.LFL_methods, safety.LFL, True),
    ("upper_limit_air", safety.UFL_methods, safety.UFL, False),
    ("autoignition", safety.T_autoignition_methods, safety.T_autoignition, True),
    ("flash_point", safety.T_flash_methods, safety.T_flash, True),
    ("limit_8_hour", safety.TWA_methods, safety.TWA, True),
    ("limit_short_term", safety.STEL_methods, safety.STEL, True),
    ("limit_ceiling", safety.Ceiling_methods, safety.Ceiling, True),
)
#: Estimates of a library are no data.
ESTIMATES = {"BOILING_CRITICAL", "LEE_KESLER_PSAT", "AMBROSE_WALTON", "SANJARI", "EDALAT", "EOS",
             "COOLPROP"}  # fmt: skip
#: Published vapour pressures scatter by so much without one of them being wrong.
SCATTER = 0.05
TEMPERATURES = (273.15, 293.15, 313.15, 333.15, 373.15, 423.15)


def _milder() -> Iterator[tuple[str, str, str]]:
    """(file, property, data set) wherever a library is more hazardous than the file."""
    for name in FILES:
        substance = REFERENCE.substance(name)
        if substance.cas == "none":
            continue
        for figure, methods, get, lowest in FIGURES:
            ours = substance.datum(figure).value
            for method in methods(CASRN=substance.cas):
                theirs = get(CASRN=substance.cas, method=method)
                theirs = theirs[0] * 1e-6 if isinstance(theirs, tuple) else theirs
                if ours is None or (ours - theirs if lowest else theirs - ours) > 1e-3 * theirs:
                    yield name, figure, method


@cache
def _coolprop() -> dict[str, str]:
    import CoolProp.CoolProp as library

    fluids = library.get_global_param_string("FluidsList").split(",")
    return {library.get_fluid_param_string(fluid, "CAS"): fluid for fluid in fluids}


def _pressures(cas: str) -> Iterator[tuple[str, float, float]]:
    """(data set, temperature, vapour pressure) of thermo's data sets and of CoolProp."""
    import CoolProp.CoolProp as library
    from thermo import VaporPressure

    sets = VaporPressure(CASRN=cas)
    for method in sorted(set(sets.all_methods) - ESTIMATES):
        low, high = sets.T_limits[method]
        for t in (t for t in TEMPERATURES if low <= t <= high):
            if pressure := sets.calculate(t, method):
                yield method, t, pressure
    if (fluid := _coolprop().get(cas)) is not None:
        low, high = (library.PropsSI(word, fluid) for word in ("Ttriple", "Tcrit"))
        for t in (t for t in TEMPERATURES if low <= t < high):
            yield "CoolProp", t, library.PropsSI("P", "T", t, "Q", 0, fluid)


def _low_vapour_pressures() -> Iterator[tuple[str, str, str]]:
    for name in FILES:
        substance = REFERENCE.substance(name)
        if substance.cas == "none" or substance.curve("vapour_pressure").state != "known":
            continue
        for method, t, theirs in _pressures(substance.cas):
            ours, inside = vapour_pressure(substance, t)
            if inside and ours < (1.0 - SCATTER) * theirs:
                yield name, "vapour_pressure", method


def _same(found: set[tuple[str, str, str]], properties: set[str]) -> None:
    listed = {
        (name, figure, method)
        for name, figures in OUTLIERS.items()
        for figure, entry in figures.items()
        if figure in properties
        for method in entry["not_taken"]
    }
    assert found - listed == set(), "milder than a library without a reason"
    assert listed - found == set(), "listed, yet no milder than the library"


def test_no_figure_is_milder_than_a_library_without_a_reason():
    _same(set(_milder()), {figure for figure, *_ in FIGURES})


def test_no_vapour_pressure_is_below_a_library_without_a_reason():
    _same(set(_low_vapour_pressures()), {"vapour_pressure"})


def test_the_limits_of_a_spread_are_the_value_or_have_a_reason():
    lowest = {"lower_limit_air", "autoignition", "flash_point", "idlh",
              *(n for n, *_ in FIGURES if n.startswith("limit_"))}  # fmt: skip
    for name in FILES:
        for figure, datum in REFERENCE.substance(name).properties.items():
            if datum.spread is None or figure not in (*lowest, "upper_limit_air"):
                continue
            end = datum.spread[0 if figure in lowest else 1]
            if datum.value != pytest.approx(end, rel=1e-4):
                assert "spread" in OUTLIERS.get(name, {}).get(figure, {}), (name, figure)


def test_every_outlier_says_why():
    for name, figures in OUTLIERS.items():
        assert name in FILES
        for figure, entry in figures.items():
            assert len(entry["why"].split()) >= 4, (name, figure)


@pytest.mark.parametrize("figure", ["boiling_point", "critical_temperature"])
def test_figures_without_a_hazardous_side_agree(figure):
    import chemicals

    get = {"boiling_point": chemicals.Tb, "critical_temperature": chemicals.Tc}[figure]
    for name in FILES:
        substance = REFERENCE.substance(name)
        ours = substance.datum(figure).value
        if substance.cas == "none" or ours is None or figure in OUTLIERS.get(name, {}):
            continue
        theirs = get(substance.cas)
        assert theirs is None or ours == pytest.approx(theirs, rel=0.02), name


def test_melting_points_are_those_of_the_handbook():
    import chemicals

    for name in FILES:
        substance = REFERENCE.substance(name)
        ours = substance.datum("melting_point").value
        if substance.cas == "none" or ours is None or "melting_point" in OUTLIERS.get(name, {}):
            continue
        for handbook in {"CRC_INORG", "CRC_ORG"} & set(chemicals.Tm_methods(substance.cas)):
            theirs = chemicals.Tm(substance.cas, method=handbook)
            assert ours == pytest.approx(theirs, rel=0.03), name


def test_a_looked_up_substance_melts_where_the_handbook_says():
    assert look_up("7704-34-9").datum("melting_point").value == pytest.approx(388.36)
