"""Faults laid into sound files: what a case writes, drawn from a start number and its own number.

The same two numbers give the same files on every machine. Some set-ups get mild faults only (a size
ten times as large, a line left out, a value of another set-up), so that many of them are read and
played to the end; the others get whatever a file can hold.
"""

from __future__ import annotations

import copy
import json
import lzma
import random
import re
import tarfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from review.register.record import sealed
from tests.practice.setups import Words, read, set_ups
from tests.support import ROOT, SCENARIOS

Files = dict[str, bytes]
Where = tuple[Any, ...]

NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
EXTREMES = (
    "0", "-0", "-1", "1e300", "-1e300", "1e-300", "5e-324", "1e309", "nan", "inf", "-inf", "1e18",
    "99999999999999999999999999", "0.1e-9", "١٢", "１２", "1,5", "1_000", "0x10", "1e3e3", "½",
)  # fmt: skip
UNITS = (
    "mm", "m", "km", "L/min", "mol/s", "kg", "g", "degC", "K", "bar", "bar gauge", "Pa", "%", "ppm",
    "h", "s", "1/h", "kW", "C", "F", "", "furlong", "mm**99", "m/m", "mol/L", "L", "cm2", "N m",
)  # fmt: skip
WORDS = (
    "", " ", "~", "null", "yes", "no", "on", "NO", "[]", "{}", "water", "acetone", "hydrogen",
    "oxygen", "hood", "none", "off", "tube", "1", "a\u202eb", "\ufeff", "ｗater", "wаter", "\u200b",
    "x" * 70_000, "2 H2 + O2 -> 2 H2O", "->", "99 % of nothing", "../../etc", "{x}", "%s", "\\",
    "C" * 500, "C1e9H2 + O2 -> CO2", "H2O" * 300 + " -> H2",
)  # fmt: skip
ALIKE = str.maketrans("aeocpxyijsH0", "аеосрхуіјѕНО")
CONDITIONS = (
    "true", "false", "1", "nan", "facts", "facts.nobody", "facts.operators", "1 / 0 == 1",
    "0.0 / 0.0 >= 0.0", "facts.operators / 0.0 > 1.0", "'a'.matches('(a+)+$')", "'" + "a" * 40
    + "!'.matches('^(a+)+$')", "(" * 300 + "1" + ")" * 300 + " == 1", "!" * 2000 + "true",
    " && ".join(["true"] * 5000), "9223372036854775807 + 1 > 0", "[1,2,3].all(x, x > 0)",
    "[1,2,3,4,5,6,7,8,9].all(a, " * 9 + "true" + ")" * 9, "timestamp('x') > timestamp('y')",
    "size(facts.substances) > 0", "facts.substances.exists(s, s == s)", "duration('1e999s') < 1",
    "'x' in facts.detectors && 'х' in facts.substances", "facts['operators'] > 1", "has(facts.x)",
    "dyn(1) == dyn('a')", "string(1.0).size() > int('x')", "{1: 2}[3] == 1", "limits.nobody > 1.0",
)  # fmt: skip


def files(start: int, number: int) -> tuple[str, Files]:
    """The kind of a case, and the files that it writes, by name."""
    draw = random.Random(f"{start}/{number}")
    kinds = {"set-up": 75, "text": 6, "rules": 9, "data": 5, "record": 3, "store": 2}
    [kind] = draw.choices(list(kinds), list(kinds.values()))
    return kind, WRITERS[kind](draw)


def _set_up(draw: random.Random) -> Files:
    # The shorter of two, for more cases in the same time.
    tree = copy.deepcopy(min(draw.choices(_bases(), k=2), key=lambda each: len(str(each))))
    faults = MILD if draw.random() < 0.15 else (*MILD, *WILD)
    return {"x.yaml": _dumped(_with_faults(draw, tree, faults))}


def _text(draw: random.Random) -> Files:
    """The text itself damaged: bytes and lines, anchors and what aliases expand to."""
    text = _dumped(draw.choice(_bases()))
    for _ in range(draw.choice((1, 1, 2, 4))):
        text = draw.choice(TEXTS)(draw, text)
    return {"x.yaml": text}


def _rules(draw: random.Random) -> Files:
    tree = copy.deepcopy(draw.choice(_rulesets()))
    conditions = [at for at in _leaves(tree) if at[-1] in ("require", "applies")]
    if draw.random() < 0.5 and conditions:
        _put(tree, draw.choice(conditions), draw.choice(CONDITIONS))
    else:
        tree = _with_faults(draw, tree, (*MILD, *WILD))
    text = _dumped(tree)
    if draw.random() < 0.1:
        text = draw.choice(TEXTS)(draw, text)
    return {"x.yaml": _quick(), "site.yaml": text}


def _data(draw: random.Random) -> Files:
    """A site's own file of a substance or material that the set-up names, milder for a reason."""
    name = draw.choice(("substances/nitrogen", "substances/nitrogen", "substances/water",
                        "materials/ptfe", "materials/pfa"))  # fmt: skip
    tree = read(ROOT / "rulesets" / f"{name}.yaml")
    if draw.random() < 0.8:
        tree = {**_with_faults(draw, tree, (*MILD, *WILD)), "reason": "invented"}
    text = _dumped(tree)
    if draw.random() < 0.1:
        text = draw.choice(TEXTS)(draw, text)
    plugin = (
        "from pathlib import Path\nfrom review import hookimpl\n\n@hookimpl\n"
        "def substances():\n    return [Path(__file__).parent / 'data']\n"
    )
    return {"x.yaml": _quick(), "site.py": plugin.encode(), f"data/{name}.yaml": text}


def _record(draw: random.Random) -> Files:
    """A record with bytes damaged, or with other contents under a seal that fits them.

    Mostly without the other records, which take their time and say the same each time.
    """
    found = dict(_register())
    name = draw.choice(sorted(found))
    if draw.random() < 0.8:
        found = {each: found[each] for each in {"head.json", name}}
    if not name.startswith("head") and draw.random() < 0.6:
        body = json.loads(found[name])
        number, previous = body["number"], body["previous"]
        for key in ("benchgate_record", "number", "previous", "sha256"):
            body.pop(key, None)
        body = _with_faults(draw, body, (*MILD, *WILD))
        if isinstance(body, dict):
            return found | {name: sealed(body, number, previous)}
    return found | {name: _damaged(draw, found[name])}


def _store(draw: random.Random) -> Files:
    return {"s/x.yaml": _quick(), "audit.sqlite": _damaged(draw, _whole_store())}


WRITERS: dict[str, Callable[[random.Random], Files]] = {
    "set-up": _set_up, "text": _text, "rules": _rules, "data": _data, "record": _record,
    "store": _store,
}  # fmt: skip


def _with_faults(draw: random.Random, tree: Any, among: tuple[Any, ...]) -> Any:
    for _ in range(draw.choice((1, 1, 2, 3, 6))):
        places = list(_places(tree))
        if not places:
            return tree
        # A kind of key first, so that thirty lines of one list do not hide the rest.
        by_key = defaultdict(list)
        for at in places:
            by_key[next(part for part in reversed((0, *at)) if at[-1:] != (part,) or
                        isinstance(part, str) or len(at) == 1)].append(at)  # fmt: skip
        draw.choice(among)(draw, tree, draw.choice(draw.choice(list(by_key.values()))))
    return tree


def _places(tree: Any, at: Where = ()) -> Iterator[Where]:
    inside = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in list(inside):
        yield (*at, key)
        if isinstance(value, dict | list):
            yield from _places(value, (*at, key))


def _leaves(tree: Any) -> list[Where]:
    return [at for at in _places(tree) if not isinstance(_get(tree, at), dict | list)]


def _get(tree: Any, at: Where) -> Any:
    for part in at:
        tree = tree[part]
    return tree


def _put(tree: Any, at: Where, value: Any) -> None:
    _get(tree, at[:-1])[at[-1]] = value


# Mild: what a person may have meant.


def _scaled(draw: random.Random, tree: Any, at: Where) -> None:
    factor = draw.choice((0.01, 0.1, 0.5, 0.9, 1.1, 2, 10, 100))
    text = str(_get(tree, at))
    if not isinstance(_get(tree, at), dict | list) and NUMBER.search(text):
        _put(tree, at, NUMBER.sub(lambda m: f"{float(m[0]) * factor:.6g}", text, count=1))


def _left_out(draw: random.Random, tree: Any, at: Where) -> None:
    del _get(tree, at[:-1])[at[-1]]


def _twice(draw: random.Random, tree: Any, at: Where) -> None:
    inside = _get(tree, at[:-1])
    again = copy.deepcopy(_get(tree, at))
    if isinstance(inside, dict):
        inside[f"{at[-1]} again"] = again
        return
    if isinstance(again, dict) and draw.random() < 0.8:
        again |= {key: f"{again[key]} again" for key in ("id", "step") if key in again}
    inside.insert(draw.randint(0, len(inside)), again)


def _swapped(draw: random.Random, tree: Any, at: Where) -> None:
    inside = _get(tree, at[:-1])
    other = draw.choice(list(inside) if isinstance(inside, dict) else range(len(inside)))
    inside[at[-1]], inside[other] = inside[other], inside[at[-1]]


def _grafted(draw: random.Random, tree: Any, at: Where) -> None:
    """What stands under the same key in another set-up."""
    named = [part for part in at if isinstance(part, str)]
    values = _values().get(named[-1] if named else "")
    if values:
        _put(tree, at, copy.deepcopy(draw.choice(values)))


# Wild: what a file can hold.


def _extreme(draw: random.Random, tree: Any, at: Where) -> None:
    text, number = str(_get(tree, at)), draw.choice(EXTREMES)
    if isinstance(_get(tree, at), dict | list) or not NUMBER.search(text):
        number = f"{number} {draw.choice(UNITS)}"
        _put(tree, at, number)
    else:
        _put(tree, at, NUMBER.sub(number, text, count=1))


def _unit(draw: random.Random, tree: Any, at: Where) -> None:
    found = NUMBER.search(str(_get(tree, at)))
    _put(tree, at, f"{found[0] if found else 1} {draw.choice(UNITS)}")


def _word(draw: random.Random, tree: Any, at: Where) -> None:
    _put(tree, at, draw.choice(WORDS))


def _type(draw: random.Random, tree: Any, at: Where) -> None:
    value = copy.deepcopy(_get(tree, at))
    parts = list(value.values()) if isinstance(value, dict) else [value]
    _put(tree, at, draw.choice((parts, {"x": value}, str(value)[:200], [], {}, [[value]], None)))


def _alike(draw: random.Random, tree: Any, at: Where) -> None:
    value = _get(tree, at)
    _put(tree, at, value.translate(ALIKE) if isinstance(value, str) else WORDS[11])


def _key(draw: random.Random, tree: Any, at: Where) -> None:
    inside = _get(tree, at[:-1])
    if isinstance(inside, dict):
        name = str(at[-1])
        inside[draw.choice((name.translate(ALIKE), name.upper(), name[:-1], "", "x" * 500))] = (
            inside.pop(at[-1])
        )


def _deep(draw: random.Random, tree: Any, at: Where) -> None:
    value = _get(tree, at)
    for _ in range(draw.choice((3, 36, 45, 120))):
        value = [value] if draw.random() < 0.5 else {"x": value}
    _put(tree, at, value)


def _many(draw: random.Random, tree: Any, at: Where) -> None:
    inside, value = _get(tree, at[:-1]), _get(tree, at)
    count = draw.choice((40, 3000))
    if isinstance(inside, list) and len(str(value)) * count < 400_000:
        for n in range(count):
            again = copy.deepcopy(value)
            if isinstance(again, dict):
                again |= {key: f"{again[key]} {n}" for key in ("id", "step") if key in again}
            inside.append(again)


MILD = (_scaled, _scaled, _scaled, _left_out, _twice, _swapped, _grafted, _grafted)
WILD = (_extreme, _extreme, _extreme, _unit, _word, _word, _type, _alike, _key, _deep, _many)


# The text itself.


def _damaged(draw: random.Random, text: bytes) -> bytes:
    """Some bytes flipped, and one in four cut off somewhere."""
    out = bytearray(text)
    for _ in range(draw.choice((1, 1, 3, 30)) if out else 0):
        out[draw.randrange(len(out))] ^= 1 << draw.randrange(8)
    return bytes(out[: draw.randrange(len(out) + 1)] if draw.random() < 0.25 else out)


def _lines(draw: random.Random, text: bytes) -> bytes:
    lines = text.split(b"\n")
    n = draw.randrange(len(lines))
    new: list[bytes] = draw.choice((
        [], [lines[n]] * 2, [b" " + lines[n]], [b"\t" + lines[n]], [b"---", lines[n]],
        [b"? " + lines[n]], [b"<<: *a", lines[n]], [b"a: &a [*a]"], [b"- " * 3000 + b"x"],
        [b"{" * 5000], [b"a: !!python/name:os.system x"], [b"x: |", b" " * 100_000 + b"y"],
        [b"%TAG ! tag:x,2000:"], [b'"' + lines[n]], [lines[n].replace(b": ", b":")],
        [b"\xef\xbb\xbf" + lines[n]], [lines[n] + b"\r"], [b"x" * 2000 + b": 1"], [lines[n][:-1]],
    ))  # fmt: skip
    return b"\n".join([*lines[:n], *new, *lines[n + 1 :]])


def _aliases(draw: random.Random, text: bytes) -> bytes:
    wide, high = draw.choice(((9, 8), (2, 30), (100, 3), (3, 3)))
    bomb = [f"a0: &a0 [{', '.join(['x'] * wide)}]"]
    bomb += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * wide)}]" for n in range(1, high)]
    return "\n".join([*bomb, ""]).encode() + text + f"ambient: *a{high - 1}\n".encode()


TEXTS = (_damaged, _lines, _lines, _lines, _aliases)


# What is sound, to begin with.


@cache
def _bases() -> tuple[Any, ...]:
    drawn = [yaml.load(each.text, Loader=Words) for each in set_ups()]
    return (*drawn, *([read(path) for path in sorted(SCENARIOS.glob("*.yaml"))] * 5))


@cache
def _values() -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = defaultdict(list)
    for tree in _bases():
        for at in _places(tree):
            named = [part for part in at if isinstance(part, str)]
            if named and at[-1:] == (named[-1],):
                found[named[-1]].append(_get(tree, at))
    return found


@cache
def _rulesets() -> tuple[Any, ...]:
    own = [*(ROOT / "tests/frozen/rules").glob("*.yaml"), ROOT / "tests/site/pack/house_rules.yaml"]
    shipped = [read(ROOT / "rulesets" / f"{name}.yaml") for name in ("general", "heat", "exposure")]
    cut = [{**tree, "criteria": tree["criteria"][:4], "name": "site"} for tree in shipped]
    return (*(read(path) for path in sorted(own)), *cut)


@cache
def _quick() -> bytes:
    """A set-up that takes no time, and uses what the data files above are about."""
    return (SCENARIOS / "nitrogen_dried.yaml").read_bytes()


@cache
def _register() -> dict[str, bytes]:
    with tarfile.open(ROOT / "tests/frozen/registers.tar.xz") as packed:
        inside = [(each.name, packed.extractfile(each)) for each in packed if each.isfile()]
        return {
            Path(name).name: file.read() for name, file in inside
            if file and name.startswith("built_in/")
        }  # fmt: skip


@cache
def _whole_store() -> bytes:
    return lzma.decompress((ROOT / "tests/frozen/audit.sqlite.xz").read_bytes())


def _dumped(tree: Any) -> bytes:
    text: str = yaml.safe_dump(tree, sort_keys=False, allow_unicode=True, width=100)
    return text.encode("utf-8", "surrogatepass")
