"""The operator's page as HTML: one file, nothing fetched, printed on A4."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from review.render import runsheet
from review.render.runsheet import RunSheet

_TEMPLATES = Path(__file__).with_name("templates")


def to_html(sheet: RunSheet) -> str:
    """The page as one HTML document. Whatever comes from a file is escaped."""
    # A loader and an environment of its own: nothing beside this module is ever a template.
    environment = Environment(
        loader=FileSystemLoader(_TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("runsheet.html.j2").render(sheet=sheet, texts=runsheet)
