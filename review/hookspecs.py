"""All hooks of the plugin interface. A plugin implements any of them with `review.hookimpl`.

Every hook returns data; none is called with a half-built review. The built-in checks use exactly
these.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pluggy

from review.plugin import PROJECT, Check, Computation, Overlay, Section

if TYPE_CHECKING:
    from review.items import ItemKind
    from review.result import Review
    from review.scenario import Scenario

hookspec = pluggy.HookspecMarker(PROJECT)


@hookspec
def check() -> Check:
    """Describe the check: id, title, what it covers, what not, its sources."""


@hookspec
def measures() -> list[Computation]:
    """The functions that compute measures, each with the kinds it yields."""


@hookspec
def upsets(scenario: Scenario) -> list[Overlay]:
    """Single failures this scenario can meet, as overlays with case ``upset``."""


@hookspec
def criteria() -> list[Path]:
    """Ruleset files shipped with the plugin."""


@hookspec
def substances() -> list[Path]:
    """Folders of substance files that the plugin adds or overrides."""


@hookspec
def materials() -> list[Path]:
    """Folders of material files that the plugin adds or overrides."""


@hookspec
def item_kinds() -> list[ItemKind]:
    """Kinds of train items: transfer, pressure drop, gas volume, wetted materials."""


@hookspec
def report_sections(review: Review) -> list[Section]:
    """Sections of text added to the report after the findings."""
