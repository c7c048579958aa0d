"""All hooks of the plugin interface. A plugin implements any of them with `review.hookimpl`.

Every hook returns data; none is called with a half-built review. The built-in checks use exactly
these.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pluggy

from review.interface.plugin import PROJECT, Check, Overlay, Section
from review.interface.setup import Computation

if TYPE_CHECKING:
    from review.interface.items import ItemKind
    from review.interface.result import Review
    from review.reference.finding import Reference
    from review.scenario import Scenario

hookspec = pluggy.HookspecMarker(PROJECT)


@hookspec
def check() -> Check:
    """Describe the check: id, title, what it covers, what not, its sources.

    >>> from review import Check, hookimpl
    >>> @hookimpl
    ... def check():
    ...     return Check("dewar", "Cold liquids", "1", ("a dewar",), ("frostbite",), ("physics",))
    >>> check().title
    'Cold liquids'
    """


@hookspec
def measures() -> list[Computation]:
    """The functions that compute measures, each with the kinds it yields.

    >>> from review import Computation, Kind, hookimpl
    >>> KIND = Kind("dewar.loss", "Loss", "higher", "1", "%", "dewar.loss", "physics", "all")
    >>> @hookimpl
    ... def measures():
    ...     return [Computation(kinds=(KIND,), compute=lambda setup: ())]
    >>> measures()[0].kinds[0].id
    'dewar.loss'
    """


@hookspec
def upsets(scenario: Scenario, reference: Reference) -> list[Overlay]:
    """Single failures this scenario can meet, as overlays with case ``upset``.

    A plugin that does not ask for data leaves `reference` out.

    >>> from review import Overlay, hookimpl
    >>> @hookimpl
    ... def upsets(scenario):
    ...     changes = {"ventilation.working": 0.0}
    ...     return [Overlay("fan", "the fan stops", "upset", changes, from_step=1)]
    >>> upsets(None)[0].title
    'the fan stops'
    """


@hookspec
def criteria() -> list[Path]:
    """Ruleset files shipped with the plugin.

    >>> from pathlib import Path
    >>> from review import hookimpl
    >>> @hookimpl
    ... def criteria():
    ...     return [Path("dewar.yaml")]
    >>> criteria()[0].name
    'dewar.yaml'
    """


@hookspec
def substances() -> list[Path]:
    """Folders of substance files that the plugin adds or overrides.

    >>> from pathlib import Path
    >>> from review import hookimpl
    >>> @hookimpl
    ... def substances():
    ...     return [Path("data")]
    >>> [folder.name for folder in substances()]
    ['data']
    """


@hookspec
def materials() -> list[Path]:
    """Folders of material files that the plugin adds or overrides.

    >>> from pathlib import Path
    >>> from review import hookimpl
    >>> @hookimpl
    ... def materials():
    ...     return [Path("data")]
    >>> [folder.name for folder in materials()]
    ['data']
    """


@hookspec
def item_kinds() -> list[ItemKind]:
    """Kinds of train items: transfer, pressure drop, gas volume, wetted materials.

    >>> from review import ItemKind, hookimpl
    >>> @hookimpl
    ... def item_kinds():
    ...     return [ItemKind("cold finger", "Cold finger", ("gas_volume",))]
    >>> item_kinds()[0].requires
    ('gas_volume',)
    """


@hookspec
def report_sections(review: Review) -> list[Section]:
    """Sections of text added to the report after the findings.

    >>> from review import Section, hookimpl
    >>> @hookimpl
    ... def report_sections(review):
    ...     return [Section("Cold", ("Wear a face shield.",))]
    >>> report_sections(None)[0].lines
    ('Wear a face shield.',)
    """
