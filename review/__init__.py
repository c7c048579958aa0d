"""benchgate: reviews the hazards of a bench experiment before it is run.

What is exported here is the documented interface, for plugins and for programs.
"""

from review.engine import Engine, Explanation
from review.items import Gas, ItemKind, ItemView, Transfer, absorb, react, saturate, tube_volume
from review.measure import FloatArray, Input, Measure, Method, Quantity
from review.plugin import (
    Check,
    Computation,
    Kind,
    Overlay,
    PluginError,
    Section,
    hookimpl,
)
from review.reference import Datum, Material, Reference, Substance
from review.result import Finding, Review
from review.scenario import InputError, Scenario, load, loads
from review.setup import Place, Setup

__all__ = [
    "Check", "Computation", "Datum", "Engine", "Explanation", "Finding", "FloatArray", "Gas",
    "Input", "InputError", "ItemKind", "ItemView", "Kind", "Material", "Measure", "Method",
    "Overlay", "Place", "PluginError", "Quantity", "Reference", "Review", "Scenario", "Section",
    "Setup", "Substance", "Transfer", "absorb", "hookimpl", "load", "loads", "react", "saturate",
    "tube_volume",
]  # fmt: skip
