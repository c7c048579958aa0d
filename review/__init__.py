"""benchgate reviews a bench experiment before it is run; this is its documented interface."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from review.engine import Engine, Explanation
    from review.items import Gas, ItemKind, ItemView, Transfer, absorb, react, saturate, tube_volume
    from review.measure import FloatArray, Input, Measure, Method, Quantity
    from review.plugin import Check, Computation, Kind, Overlay, PluginError, Section, hookimpl
    from review.procedure import played
    from review.reference import Datum, Material, Reference, Substance, vapour_pressure
    from review.result import Finding, Review
    from review.scenario import InputError, Safeguard, Scenario, load, loads
    from review.setup import Place, Setup

# A module is loaded when one of its names is first used.
_HOME = {
    "engine": "Engine Explanation", "scenario": "InputError Safeguard Scenario load loads",
    "items": "Gas ItemKind ItemView Transfer absorb react saturate tube_volume",
    "measure": "FloatArray Input Measure Method Quantity", "result": "Finding Review",
    "plugin": "Check Computation Kind Overlay PluginError Section hookimpl",
    "reference": "Datum Material Reference Substance vapour_pressure", "procedure": "played",
    "setup": "Place Setup",
}  # fmt: skip
_MODULE = {name: module for module, names in _HOME.items() for name in names.split()}
__all__ = [
    "Check", "Computation", "Datum", "Engine", "Explanation", "Finding", "FloatArray", "Gas",
    "Input", "InputError", "ItemKind", "ItemView", "Kind", "Material", "Measure", "Method",
    "Overlay", "Place", "PluginError", "Quantity", "Reference", "Review", "Safeguard", "Scenario",
    "Section", "Setup", "Substance", "Transfer", "absorb", "hookimpl", "load", "loads", "played",
    "react", "saturate", "tube_volume", "vapour_pressure",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _MODULE:
        raise AttributeError(f"module 'review' has no attribute {name!r}")
    return getattr(import_module(f"review.{_MODULE[name]}"), name)
