"""The commonest units as factors: a file of these alone is read without pint.

Importing pint and building its registry costs as much as all other libraries together. Every factor
is the one that pint works out, to the last bit; a test compares them. What is not here pint reads.
"""

from __future__ import annotations

#: How a unit is spelled for pint: the SI unit, the factor to it, and the factor from it.
FACTORS: dict[str, tuple[str, float, float]] = {
    "m": ("m", 1.0, 1.0),
    "cm": ("m", 0.01, 100.0),
    "mm": ("m", 0.001, 1000.0),
    "µm": ("m", 1e-06, 1e6),
    "cm**2": ("m**2", 0.0001, 10000.0),
    "m**3": ("m**3", 1.0, 1.0),
    "L": ("m**3", 0.0010000000000000002, 999.9999999999999),
    "mL": ("m**3", 1.0000000000000002e-06, 999999.9999999999),
    "kg": ("kg", 1.0, 1.0),
    "g": ("kg", 0.001, 1000.0),
    "mg": ("kg", 1e-06, 1e6),
    "mol": ("mol", 1.0, 1.0),
    "mmol": ("mol", 0.001, 1000.0),
    "s": ("s", 1.0, 1.0),
    "min": ("s", 60.0, 0.016666666666666666),
    "h": ("s", 3600.0, 0.0002777777777777778),
    "hour": ("s", 3600.0, 0.0002777777777777778),
    "Pa": ("Pa", 1.0, 1.0),
    "kPa": ("Pa", 1000.0, 0.001),
    "MPa": ("Pa", 1e6, 1e-06),
    "bar": ("Pa", 100000.0, 1e-05),
    "mbar": ("Pa", 100.0, 0.01),
    "atm": ("Pa", 101325.0, 9.869232667160129e-06),
    "m/s": ("m/s", 1.0, 1.0),
    "L/min": ("m**3/s", 1.666666666666667e-05, 59999.99999999999),
    "mL/min": ("m**3/s", 1.666666666666667e-08, 59999999.99999999),
    "L/h": ("m**3/s", 2.7777777777777787e-07, 3599999.9999999995),
    "mL/h": ("m**3/s", 2.777777777777778e-10, 3599999999.9999995),
    "m**3/h": ("m**3/s", 0.0002777777777777778, 3600.0),
    "g/h": ("kg/s", 2.7777777777777776e-07, 3600000.0),
    "g/min": ("kg/s", 1.6666666666666667e-05, 60000.0),
    "1/h": ("1/s", 0.0002777777777777778, 3600.0),
    "1/hour": ("1/s", 0.0002777777777777778, 3600.0),
    "kg/m**3": ("kg/m**3", 1.0, 1.0),
    "kg/h": ("kg/s", 0.0002777777777777778, 3600.0),
    "mg/min": ("kg/s", 1.6666666666666667e-08, 6e7),
    "mL/s": ("m**3/s", 1.0000000000000002e-06, 999999.9999999999),
    "cm/s": ("m/s", 0.01, 100.0),
    "g/mL": ("kg/m**3", 999.9999999999999, 0.0010000000000000002),
    "g/cm**3": ("kg/m**3", 999.9999999999999, 0.0010000000000000002),
    "g/L": ("kg/m**3", 0.9999999999999999, 1.0000000000000002),
    "J": ("J", 1.0, 1.0),
    "kJ": ("J", 1000.0, 0.001),
    "W": ("W", 1.0, 1.0),
    "kW": ("W", 1000.0, 0.001),
    "N": ("N", 1.0, 1.0),
    "N*m": ("N*m", 1.0, 1.0),
    "deg": ("rad", 0.017453292519943295, 57.29577951308232),
    "K": ("K", 1.0, 1.0),
}

#: 0 degC (definition of the Celsius scale); the one usual scale that does not begin at zero.
ICE = 273.15


def to_si(value: float, unit: str) -> tuple[float, str] | None:
    """A value of a unit, spelled as for pint, in SI and its SI unit; None: not a usual one.

    >>> to_si(20.0, "mm"), to_si(20.0, "degC"), to_si(1.0, "furlong")
    ((0.02, 'm'), (293.15, 'K'), None)
    """
    if unit == "degC":
        return value + ICE, "K"
    known = FACTORS.get(unit)
    return None if known is None else (value * known[1], known[0])


def from_si(value: float, unit: str) -> float | None:
    """An SI value in a unit, spelled as for pint; None: not a usual one.

    >>> from_si(0.02, "mm"), from_si(293.15, "degC"), from_si(1.0, "furlong")
    (20.0, 20.0, None)
    """
    if unit == "degC":
        return value - ICE
    known = FACTORS.get(unit)
    return None if known is None else value * known[2]
