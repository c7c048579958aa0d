"""The ratios of a mixture to the flammable envelope: formulas with their data sheets."""

from __future__ import annotations

import numpy as np

from review import Input, Kind, Method
from review.physics.mixtures import upper_boundary

from . import directions

_SOURCE = "Le Chatelier (1891) as in Crowl & Louvar, Chemical Process Safety; Bulletin 627 (1965)"
_VALID = "limits of upward flame travel; gases mixed along straight lines"

SHARE = Method(
    id="flammability.share_of_limit",
    title="Fuel content over its limit",
    result="share of the limit",
    unit="1",
    formula="x / L",
    inputs=(
        Input("x", "x", "mol/mol", "fuel in the gas"),
        Input("L", "L", "mol/mol", "its limit"),
    ),
    function=lambda x, L: np.where(x > 0, x / L, 0.0),
    source=_SOURCE,
    validity=_VALID,
)
TO_LOWER = Method(
    id="flammability.fuel_to_lower_limit",
    title="Fuel to lower limit, mixtures by Le Chatelier",
    result="fuel to lower limit",
    unit="1",
    formula="sum(shares)",
    inputs=(Input("shares", "x/L", "1", "each fuel over its lower limit"),),
    function=lambda shares: np.sum(np.broadcast_arrays(*shares), axis=0),
    source=_SOURCE,
    validity=_VALID,
)
TO_LIMITING = Method(
    id="flammability.oxygen_to_limiting",
    title="Oxygen to limiting oxygen",
    result="oxygen to limiting oxygen",
    unit="1",
    formula="where(loc <= 0, inf, o / loc)",
    inputs=(
        Input("o", "O2", "mol/mol", "oxygen in the gas"),
        Input("loc", "LOC", "mol/mol", "limiting oxygen of the most demanding fuel, when hot"),
    ),
    function=lambda o, loc: np.where(
        loc <= 0, np.inf, np.where(o > 0, o / np.where(loc > 0, loc, np.nan), 0.0)
    ),
    source="NFPA 69 tables, tube values adjusted (TIA 1211); else z x lower limit with a factor",
    validity="inert of the kind tabulated; scaled with temperature like the lower limit",
)
UPPER_OF_MIXTURE = Method(
    id="flammability.upper_limit_of_mixture",
    title="Upper limit of the fuels together, by Le Chatelier",
    result="upper limit of the mixture",
    unit="mol/mol",
    formula="F / sum(shares)",
    inputs=(
        Input("F", "F", "mol/mol", "all fuel in the gas"),
        Input("shares", "x/U", "1", "each fuel over its upper limit"),
    ),
    function=lambda F, shares: F / np.sum(np.broadcast_arrays(*shares), axis=0),
    source=_SOURCE,
    validity=_VALID + "; upper limits are combined less exactly than lower ones",
)
TO_UPPER = Method(
    id="flammability.upper_limit_to_fuel",
    title="Upper boundary to fuel",
    result="upper boundary to fuel",
    unit="1",
    formula=(
        "where(U >= 1, inf, where(F > 0, (U + where(1 - Uo > 0.2095 * (1 - U),"
        " min(max((o - 0.2095 * (1 - U)) / ((1 - Uo) - 0.2095 * (1 - U)), 0), 1),"
        " where(o >= 1 - Uo, 1, 0)) * (Uo - U)) / F, inf))"
    ),
    inputs=(
        Input("o", "O2", "mol/mol", "oxygen in the gas"),
        Input("U", "U", "mol/mol", "upper limit in air"),
        Input("Uo", "Uo", "mol/mol", "upper limit in oxygen"),
        Input("F", "F", "mol/mol", "all fuel in the gas"),
    ),
    function=lambda o, U, Uo, F: np.where(F > 0, upper_boundary(o, U, Uo) / F, np.inf),
    source="boundary from the upper limit in air to that in oxygen, Bulletin 627 (1965)",
    validity="level below the oxygen left at the upper limit in air",
)
#: The figures of ISO 10156 are a classification: a gas at them counts as outside by the margin that
#: limits are asked to keep (a judgement).
DILUTE_MARGIN = 0.8

MARGIN = Method(
    id="flammability.margin",
    title="Signed margin to the flammable envelope",
    result="margin",
    unit="1",
    formula="max(1 - lean, 1 - inert, 1 - rich, 1 - 0.8 * dilute)",
    inputs=(
        Input("lean", "lean", "1", "fuel to lower limit"),
        Input("inert", "inert", "1", "oxygen to limiting oxygen"),
        Input("rich", "rich", "1", "upper boundary to fuel"),
        Input("dilute", "dilute", "1", "fuel over what burns in no air; inf: no such gas"),
    ),
    function=lambda lean, inert, rich, dilute: np.fmax(
        np.fmax(np.fmax(1 - lean, 1 - inert), 1 - rich), 1 - DILUTE_MARGIN * dilute
    ),
    source="outside if any one boundary keeps it out; negative inside; ISO 10156 for dilute gas",
    validity=_VALID,
)
ALLOWANCE = Method(
    id="flammability.allowance_used",
    title="Fuel or oxygen as a share of what is allowed",
    result="share of the allowance",
    unit="1",
    formula="min(lean / lean_share, inert / inert_share, dilute)",
    inputs=(
        Input("lean", "lean", "1", "fuel to lower limit"),
        Input("lean_share", "lean share", "1", "share of the lower limit allowed"),
        Input("inert", "inert", "1", "oxygen to limiting oxygen"),
        Input("inert_share", "inert share", "1", "share of the limiting oxygen allowed"),
        Input("dilute", "dilute", "1", "fuel over what burns in no air; inf: no such gas"),
    ),
    function=lambda lean, lean_share, inert, inert_share, dilute: np.fmin(
        np.fmin(lean / lean_share, inert / inert_share), dilute
    ),
    source="NFPA 69 (from memory): 25 % of the lower limit, or oxygen well below the limiting one; "
    "ISO 10156: a gas that burns in no amount of air is no fuel",
    validity="being rich earns nothing",
)

FUEL_KIND = Kind.of(TO_LOWER, "higher", moves=directions.FUEL)
OXYGEN_KIND = Kind.of(TO_LIMITING, "higher", moves=directions.OXYGEN)
RICH_KIND = Kind.of(TO_UPPER, "higher", moves=directions.RICH)
# Estimated limits are off by less than half of themselves (common practice, no source).
MARGIN_KIND = Kind.of(MARGIN, "lower", moves=directions.MARGIN, offset=0.1)
NEAR = Method(
    id="flammability.near_burning",
    title="Worst mixture of fuel and oxygen here against what burns",
    result="worst mixture to what burns",
    unit="1",
    formula="mixture",
    inputs=(
        Input("mixture", "m", "1", "smaller of fuel to lower limit and oxygen to limiting oxygen"),
    ),
    function=lambda mixture: mixture,
    source=_SOURCE,
    validity="being rich earns nothing",
)
NEAR_KIND = Kind.of(NEAR, "higher", moves=directions.OXYGEN, factor=1.5)
RISE = Method(
    id="flammability.after_burn",
    title="Most that fuel and oxygen which meet here can warm the gas",
    result="warming",
    unit="K",
    formula="H / cp",
    inputs=(
        Input("H", "H", "J/mol", "heat of what can burn, oxygen counted, worst mixture"),
        Input("cp", "cp", "J/(mol K)", "heat capacity of nitrogen at 25 degC, or of noble gas"),
    ),
    function=lambda H, cp: H / cp,
    source="heats of combustion of the reference data; adiabatic, constant pressure",
    validity="never too low: hot gas has a larger heat capacity; infinite for what burns cold",
)
RISE_KIND = Kind.of(RISE, "higher", "K", moves=directions.AFTER_BURN)
ALLOWANCE_KIND = Kind.of(ALLOWANCE, "higher", moves=directions.ALLOWANCE, factor=1.5)
