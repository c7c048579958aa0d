"""What an engine is built from. Importing this is cheap, so that workers can be started first."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Recipe:
    """Files of plugins and of rules, laid over what is built in."""

    plugins: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
