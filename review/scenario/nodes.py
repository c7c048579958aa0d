"""YAML of data and rule files as nodes, refused before it costs memory or stack.

No file larger or nested deeper than a scenario may be, and no aliases, which multiply. Every such
file that a site or a plugin may bring is read through here.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import yaml

from review.scenario.yaml import DEEPEST, LARGEST_FILE

_LOADER: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


def text_of(path: Path) -> str:
    """What a file holds; raises OSError, and YAMLError where it is too large or is no text."""
    size = os.stat(path).st_size
    if size > LARGEST_FILE:
        raise yaml.YAMLError(f"it is too large: {size} bytes, at most {LARGEST_FILE}")
    try:
        return path.read_text("utf-8")
    except UnicodeDecodeError as error:
        raise yaml.YAMLError(str(error)) from error


def composed(text: str, files: str) -> yaml.Node | None:
    """The root of a text, None where it is empty; raises YAMLError. `files`: of what kind it is."""
    try:
        root: yaml.Node | None = yaml.compose(text, Loader=_LOADER)
    except RecursionError:
        raise yaml.YAMLError(f"it is nested more than {DEEPEST} deep") from None
    if root is not None:
        _refuse(root, files, set(), 1)
    return root


def _refuse(node: yaml.Node, files: str, seen: set[int], depth: int) -> None:
    """Each node once: what aliases stand for would be read as often as they multiply."""
    wrong = ""
    if id(node) in seen:
        wrong = f"anchors and aliases are not used in {files}"
    elif depth > DEEPEST:
        wrong = f"it is nested more than {DEEPEST} deep"
    if wrong:
        raise yaml.MarkedYAMLError(problem=wrong, problem_mark=node.start_mark)
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        return
    for inside in node.value:
        for part in inside if isinstance(inside, tuple) else (inside,):
            _refuse(part, files, seen, depth + 1)


def plain(node: yaml.Node) -> Any:
    """A node as nested dict, list and str; a key that is no text raises YAMLError."""
    if isinstance(node, yaml.ScalarNode):
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [plain(each) for each in node.value]
    out: dict[str, Any] = {}
    for key, value in node.value:
        if not isinstance(key, yaml.ScalarNode) or key.value in out:
            wrong = "a key is listed twice or is no plain text"
            raise yaml.MarkedYAMLError(problem=wrong, problem_mark=key.start_mark)
        out[key.value] = plain(value)
    return out
