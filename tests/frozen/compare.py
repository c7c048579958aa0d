"""What a review says today beside what it said when the set-ups here were frozen.

    python -m tests.frozen.compare                     every difference; exit status 1 if any
    python -m tests.frozen.compare 'drawn 1*'          of these set-ups only
    python -m tests.frozen.compare --better            only what became better, and unused entries
    python -m tests.frozen.compare --save before.xz    keep today's answers, to compare with later
    python -m tests.frozen.compare --with before.xz    compare with those instead
"""

from __future__ import annotations

import argparse
import json
import lzma
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from review import Engine, InputError, loads
from review.render.json import to_json

HERE = Path(__file__).parent
ANSWERS = HERE / "answers.json.xz"
#: Gravest last.
GRADES = ("acceptable", "tolerable", "undetermined", "unacceptable")
VERDICTS = ("may proceed", "may proceed with conditions", "cannot be judged", "must not proceed")
WRONG_INPUT = "wrong input"
#: Joints that were frozen as holding less than any of their kind, and the least that they hold.
WEAK_JOINT = re.compile(
    r"(joint: (?:screw-thread connector|flange with clamp)\n(?: .*\n)?? *joint_rating: )"
    r"0\.[234] bar"
)
AS_ITS_KIND = r"\g<1>0.5 bar"
Answer = dict[str, Any]


@cache
def frozen(file: Path = ANSWERS) -> dict[str, Any]:
    """`finding` and `measure` name the parts of each; `set_ups` holds text and answer of each."""
    told: dict[str, Any] = json.loads(lzma.decompress(file.read_bytes()))
    return told


def today(engine: Engine, text: str) -> Answer:
    """What is said now, in the form in which it was frozen."""
    try:
        scenario = loads(WEAK_JOINT.sub(AS_ITS_KIND, text), "one.yaml")
        told = json.loads(json.dumps(to_json(engine.review(scenario))))
    except InputError as error:
        return {"verdict": WRONG_INPUT, "error": str(error), "findings": [], "measures": []}
    names = frozen()
    return {
        "verdict": told["verdict"],
        "layers": told["ruleset"]["layers"],
        "findings": [[each[key] for key in names["finding"]] for each in told["findings"]],
        "measures": [[each[key] for key in names["measure"]] for each in told["measures"]],
    }


def gravest(answer: Answer) -> dict[str, str]:
    """The gravest grade of each criterion."""
    at, grade = (frozen()["finding"].index(key) for key in ("criterion", "grade"))
    worst: dict[str, str] = {}
    for found in answer["findings"]:
        before = worst.get(found[at], GRADES[0])
        worst[found[at]] = max(before, found[grade], key=GRADES.index)
    return worst


def better(then: Answer, now: Answer) -> Iterator[tuple[str, str, str]]:
    """(criterion or 'verdict', then, now) where a refusal was lifted.

    A scenario that is wrong input today is refused by that. A criterion that no longer says
    anything counts as lifted too.
    """
    if now["verdict"] == WRONG_INPUT:
        return
    if VERDICTS.index(now["verdict"]) < VERDICTS.index(then["verdict"]):
        yield "verdict", then["verdict"], now["verdict"]
    after = gravest(now)
    for criterion, grade in gravest(then).items():
        if grade in GRADES[2:] and after.get(criterion) not in GRADES[2:]:
            yield criterion, grade, after.get(criterion, "not judged at all")


def changed() -> list[dict[str, Any]]:
    """The reasoned exceptions of changed.yaml."""
    entries: list[dict[str, Any]] = yaml.safe_load((HERE / "changed.yaml").read_text()) or []
    return entries


def speaks_of(entry: Mapping[str, Any], set_up: str, criterion: str) -> bool:
    """Whether an entry's patterns fit."""
    return any(fnmatchcase(set_up, p) for p in entry["set_ups"]) and any(
        fnmatchcase(criterion, p) for p in entry["criteria"]
    )


def differences(then: Answer, now: Answer) -> Iterator[str]:
    """Every difference, exactly, a line each."""
    for key in ("verdict", "layers"):
        if then.get(key) != now.get(key):
            yield f"{key}: {then.get(key)} -> {now.get(key, now.get('error'))}"
    for part, name, width in (("findings", "finding", 4), ("measures", "measure", 3)):
        keys = frozen()[name]
        before, after = _by_place(then[part], width), _by_place(now[part], width)
        for place in [*before, *(p for p in after if p not in before)]:
            old, new = before.get(place), after.get(place)
            if old == new:
                continue
            said = "gone" if new is None else "new" if old is None else ""
            if old is not None and new is not None:
                said = "; ".join(
                    f"{k} {a!r} -> {b!r}" for k, a, b in zip(keys, old, new, strict=True) if a != b
                )
            yield f"{name} {' '.join(str(p) for p in place if p)}: {said}"
        if before == after and list(before) != list(after):
            yield f"{part}: in another order"


def _by_place(rows: list[list[Any]], width: int) -> dict[tuple[Any, ...], list[Any]]:
    """Rows by what they speak of; those that speak of the same are counted."""
    out: dict[tuple[Any, ...], list[Any]] = {}
    for row in rows:
        place = tuple(row[:width])
        count = 0
        while (*place, count or "") in out:
            count += 1
        out[(*place, count or "")] = row
    return out


def _all(then: Answer, now: Answer) -> Iterator[str]:
    yield from differences(then, now)


def _better(then: Answer, now: Answer) -> Iterator[str]:
    for criterion, before, after in better(then, now):
        yield f"{criterion}: {before} -> {after}"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("pattern", nargs="?", default="*")
    parser.add_argument("--better", action="store_true")
    parser.add_argument("--save", type=Path)
    parser.add_argument("--with", dest="other", type=Path, default=ANSWERS)
    asked = parser.parse_args()
    told = frozen(asked.other)
    engine, kept, count, wrong = Engine(), {}, 0, 0
    show: Callable[[Answer, Answer], Iterator[str]] = _better if asked.better else _all
    used: set[int] = set()
    for name, then in told["set_ups"].items():
        if not fnmatchcase(name, asked.pattern):
            continue
        now = today(engine, then["text"])
        kept[name] = {"text": then["text"], **now}
        wrong += now["verdict"] == WRONG_INPUT
        lines = list(show(then, now))
        count += len(lines)
        for line in lines:
            fits = [i for i, e in enumerate(changed()) if speaks_of(e, name, line.split(":")[0])]
            used.update(fits)
            known = " (in changed.yaml)" if asked.better and fits else ""
            print(f"{name}: {line}{known}", flush=True)
    print(f"{len(kept)} set-ups, {count} differences, {wrong} refused as wrong input")
    if asked.better:
        for index, entry in enumerate(changed()):
            if index not in used:
                print(f"changed.yaml: no set-up needs entry {index + 1}: {entry['criteria']}")
    if asked.save:
        plain = json.dumps({**told, "set_ups": kept}, indent=0)
        asked.save.write_bytes(lzma.compress(plain.encode()))
    return 1 if count else 0


if __name__ == "__main__":
    sys.exit(main())
