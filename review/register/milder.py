"""What a sign-off rests on besides built-in rules and checks, for whoever relies on it to see."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

#: What these are called wherever a sign-off is shown.
MILDER = "Rules that were loosened"


def milder(ruleset: Mapping[str, Any]) -> tuple[str, ...]:
    """Each loosened rule of a ruleset as `ruleset_to_json` writes it, in words.

    >>> entry = {"criterion": "a.b", "layer": "our bench", "what": "disabled", "reason": "dry"}
    >>> milder({"loosened": [entry]})
    ('a.b, by our bench: disabled. Reason: dry',)
    """
    return tuple(_in_words(each) for each in ruleset.get("loosened", ()))


def plugins(tool: Mapping[str, Any]) -> str:
    """The plugins that are not built in, as a record names them, each with the start of its hash.

    >>> plugins({"plugins": [{"name": "foam", "sha256": "0123456789abcdef"}]})
    'foam 0123456789ab'
    """
    return "; ".join(f"{each['name']} {each['sha256'][:12]}" for each in tool["plugins"])


def only_now(ruleset: Mapping[str, Any], then: Iterable[str]) -> tuple[str, ...]:
    """Each rule that is loosened in a ruleset and was not `then`, as `milder` says it."""
    return tuple(each for each in milder(ruleset) if each not in set(then))


def _in_words(entry: Mapping[str, Any]) -> str:
    criterion, layer, what, reason = (
        entry.get(key, "not said") for key in ("criterion", "layer", "what", "reason")
    )
    return f"{criterion}, by {layer}: {what}. Reason: {reason}"
