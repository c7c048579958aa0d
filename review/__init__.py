"""benchgate reviews a bench experiment before it is run; this is its documented interface."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from review.engine.explaining import Explanation
    from review.engine.reviewing import Engine
    from review.interface.items import (
        Gas,
        ItemKind,
        ItemView,
        Transfer,
        absorb,
        react,
        saturate,
        tube_volume,
        voidage,
    )
    from review.interface.measure import FloatArray, Input, Measure, Method, Quantity
    from review.interface.plugin import (
        Check,
        Gap,
        Kind,
        Overlay,
        PluginError,
        Section,
        hookimpl,
    )
    from review.interface.result import Finding, Review
    from review.interface.setup import Computation, Place, Setup
    from review.judge.conditions import RulesetError
    from review.reference.data import (
        DataError,
        Datum,
        Material,
        Substance,
        UnknownName,
        vapour_pressure,
    )
    from review.reference.finding import Reference
    from review.reference.pairs import Pair, apart
    from review.scenario import InputError, Safeguard, Scenario, load, loads
    from review.walk.procedure import played

# A module is loaded when one of its names is first used.
_HOME = {
    "engine.explaining": "Explanation",
    "engine.reviewing": "Engine",
    "scenario": "InputError Safeguard Scenario load loads",
    "interface.items": "Gas ItemKind ItemView Transfer absorb react saturate tube_volume voidage",
    "interface.measure": "FloatArray Input Measure Method Quantity",
    "interface.result": "Finding Review",
    "interface.setup": "Computation Place Setup",
    "interface.plugin": "Check Gap Kind Overlay PluginError Section hookimpl",
    "judge.conditions": "RulesetError",
    "reference.data": "DataError Datum Material Substance UnknownName vapour_pressure",
    "reference.finding": "Reference",
    "reference.pairs": "Pair apart",
    "walk.procedure": "played",
}
_MODULE = {name: module for module, names in _HOME.items() for name in names.split()}
__all__ = [
    "Check", "Computation", "DataError", "Datum", "Engine", "Explanation", "Finding",
    "FloatArray", "Gap", "Gas", "Input", "InputError", "ItemKind", "ItemView", "Kind", "Material",
    "Measure", "Method", "Overlay", "Pair", "Place", "PluginError", "Quantity", "Reference",
    "Review", "RulesetError", "Safeguard", "Scenario", "Section", "Setup", "Substance",
    "Transfer", "UnknownName", "absorb", "apart", "hookimpl", "load", "loads", "played", "react",
    "saturate", "tube_volume", "vapour_pressure", "voidage",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _MODULE:
        raise AttributeError(f"module 'review' has no attribute {name!r}")
    return getattr(import_module(f"review.{_MODULE[name]}"), name)
