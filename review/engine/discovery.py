"""Finds plugins: those installed under the entry-point group, and files that were named.

Nothing else is ever imported; what lies beside a scenario is not looked at.
"""

from __future__ import annotations

import hashlib
import importlib.util
import inspect
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import ModuleType
from typing import Any

from review.engine.integrity import forget, remember
from review.engine.limited import within
from review.interface import hookspecs
from review.interface.plugin import PROJECT, PluginError
from review.interface.result import Failure, PluginInfo
from review.judge.conditions import nearest

#: What a plugin's code may do wrong; one that calls for an exit must not end the review as passed.
FAULTS = (Exception, SystemExit)

HOOKS = tuple(n for n, f in vars(hookspecs).items() if hasattr(f, f"{PROJECT}_spec"))

_BUILT_IN = "review.plugins."
#: What Python itself writes beside the code; all else in a package can matter to it.
_BY_PYTHON = "__pycache__"


@dataclass(frozen=True, slots=True)
class Loaded:
    """A plugin that was imported. A built-in one is trusted to come to an end."""

    name: str
    module: Any
    built_in: bool


@dataclass(frozen=True, slots=True)
class Discovery:
    """Plugins by name, what failed to import, and hashes of what is not built in."""

    loaded: tuple[Loaded, ...]
    failures: tuple[Failure, ...]
    hashes: tuple[PluginInfo, ...]


def discover(files: Sequence[Path], seconds: float) -> Discovery:
    """Import every installed plugin and every file named; raises `PluginError` for wrong hooks."""
    loaded: list[Loaded] = []
    failures: list[Failure] = []
    hashes: list[PluginInfo] = []
    forget()
    points = sorted(entry_points(group=PROJECT), key=lambda p: p.name)
    for point in sorted(points, key=lambda p: not p.value.startswith(_BUILT_IN)):
        try:
            if point.value.startswith(_BUILT_IN):
                loaded.append(Loaded(point.name, point.load(), True))
            else:
                remember()
                module = within(seconds, point.load)
                hashes.append(PluginInfo(point.name, _hash_of(point, module)))
                loaded.append(Loaded(point.name, module, False))
        except FAULTS as error:
            failures.append(_not_loaded(point.name, error))
    for file in files:
        if not file.is_file():
            raise PluginError(f"plugin {file}: no such file")
        remember()
        digest = hashlib.sha256(file.read_bytes()).hexdigest()
        hashes.append(PluginInfo(file.stem, digest))
        try:
            loaded.append(Loaded(file.stem, within(seconds, partial(_imported, file)), False))
        except FAULTS as error:
            failures.append(_not_loaded(file.stem, error))
    for each in loaded:
        _check_hooks(each)
    loaded.sort(key=lambda each: each.name)
    hashes.sort(key=lambda each: each.name)
    return Discovery(tuple(loaded), tuple(failures), tuple(hashes))


def _not_loaded(name: str, error: BaseException) -> Failure:
    return Failure(name, f"did not load: {type(error).__name__}: {error}")


def _imported(file: Path) -> ModuleType:
    """Import one plugin file that the caller named; never anything found beside a scenario."""
    name = f"benchgate_plugin_{file.stem}_{hashlib.sha256(str(file).encode()).hexdigest()[:8]}"
    spec = importlib.util.spec_from_file_location(name, file)
    if spec is None or spec.loader is None:
        raise PluginError(f"plugin {file}: not a Python file")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _hash_of(point: EntryPoint, module: ModuleType) -> str:
    """Over the code and data of an installed plugin, file by file in the order of their names."""
    file = Path(inspect.getfile(module))
    if file.name != "__init__.py":
        return hashlib.sha256(file.read_bytes()).hexdigest()
    digest = hashlib.sha256()
    for path in sorted(file.parent.rglob("*")):
        name = path.relative_to(file.parent)
        if _BY_PYTHON not in name.parts and path.is_file():
            digest.update(name.as_posix().encode() + b"\0")
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def _check_hooks(plugin: Loaded) -> None:
    """A hook that would be passed over in silence is an error."""
    functions = {n: f for n, f in vars(plugin.module).items() if inspect.isroutine(f)}
    marked = [n for n, f in functions.items() if hasattr(f, f"{PROJECT}_impl")]
    for name in marked:
        if name not in HOOKS:
            hint = nearest(name, HOOKS) or f"; the hooks are {', '.join(HOOKS)}"
            raise PluginError(f"plugin {plugin.name!r}: there is no hook {name!r}{hint}")
    for name in HOOKS:
        function = functions.get(name)
        own = getattr(function, "__module__", None) == plugin.module.__name__
        if own and name not in marked:
            raise PluginError(
                f"plugin {plugin.name!r}: its function {name} is not marked with hookimpl, so it "
                "would never be called"
            )
    if not marked:
        raise PluginError(
            f"plugin {plugin.name!r}: no function in it is marked with hookimpl, so it does nothing"
        )
