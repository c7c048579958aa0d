"""The scenario file: read with places, checked, turned into SI numbers."""

from review.scenario.errors import InputError, Problem
from review.scenario.load import load, loads
from review.scenario.models import Safeguard, Scenario
from review.scenario.numbers import numbers
from review.scenario.schema import json_schema

__all__ = [
    "InputError", "Problem", "Safeguard", "Scenario", "json_schema", "load", "loads", "numbers",
]  # fmt: skip
