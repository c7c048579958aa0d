"""Whether a plugin changed what it was only given to use: the engine's code, or the findings.

A plugin runs in the same process, so nothing can stop one that means harm. What it changes in the
functions and classes of benchgate is found by comparison, and then nothing counts as judged.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping
from types import FunctionType, ModuleType
from typing import Any

from review.interface.result import Review

Key = tuple[str, ...]

_OURS = "review"
#: What the code of benchgate was when it was first looked at, by module and name.
_known: dict[Key, Any] = {}


class EngineChanged(RuntimeError):
    """The engine is not what it was: nothing that it says counts."""


def forget() -> None:
    """Begin anew: what is noted is what an engine that is about to load plugins finds."""
    _known.clear()


def remember() -> None:
    """Note all code of benchgate that is loaded and not noted yet; before a plugin is loaded."""
    for key, value in _code().items():
        _known.setdefault(key, value)


def check_unchanged() -> None:
    """Raise `EngineChanged` where code that was noted is other code now."""
    now = _code()
    changed = sorted(
        ".".join(key[:-1] if key[-1] == "code" else key)
        for key, value in _known.items()
        if key in now and now[key] is not value or key not in now and key[0] in sys.modules
    )
    if changed:
        raise EngineChanged(f"a plugin changed the engine: {', '.join(changed[:3])}")


def findings_of(review: Review) -> tuple[object, ...]:
    """What must not change while a plugin looks at a review."""
    return (
        review.verdict,
        *(
            (f.criterion, f.at, f.of, f.case, f.grade, f.blocks, repr(f.value))
            for f in review.findings
        ),
    )


def _code() -> Mapping[Key, Any]:
    found: dict[Key, Any] = {}
    for name, module in list(sys.modules.items()):
        if isinstance(module, ModuleType) and (name == _OURS or name.startswith(f"{_OURS}.")):
            for attribute, value in list(vars(module).items()):
                _note(found, (name, attribute), value)
    return found


def _note(found: dict[Key, Any], key: Key, value: Any) -> None:
    if isinstance(value, FunctionType):
        found[key] = value
        found[*key, "code"] = value.__code__
    elif inspect.isclass(value):
        found[key] = value
        if value.__module__ == key[0]:
            for name, member in list(vars(value).items()):
                inner = getattr(member, "__func__", member)
                if isinstance(member, property):
                    inner = member.fget
                if isinstance(inner, FunctionType):
                    found[*key, name] = inner
                    found[*key, name, "code"] = inner.__code__
