"""Each wrong input gives exactly one text: file, line, column, what is wrong, what to write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from review.scenario import InputError, load, loads

TRAIN = "title: t\ntrain:\n- {id: a, kind: line}\n"
GAS = "reagents:\n  argon: {state: gas, composition: {argon: 100 %}}\n"
FEED = "reagent: argon, into: a, rate: 1 L/min, reference: normal"

TEXTS = {
    "wrong unit": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: 5 g\n",
        "<text>:5:11: \"5 g\" is no length: write for example '20 mm'",
    ),
    "no unit": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: 5\n",
        "<text>:5:11: \"5\" has no unit: write for example '20 mm'",
    ),
    "unknown unit": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: 5 mmm\n",
        "<text>:5:11: unknown unit \"mmm\" in \"5 mmm\" (nearest: 'mm'): write for example '20 mm'",
    ),
    "unknown key": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  inner_diamter: 5 mm\n",
        "<text>:5:3: unknown key \"inner_diamter\" (did you mean 'inner_diameter'?)",
    ),
    "unknown section": (
        TRAIN + "ventilaton: {room_volume: 60 m3}\n",
        "<text>:4:1: unknown key \"ventilaton\" (did you mean 'ventilation'?)",
    ),
    "unknown key with no near spelling": (
        TRAIN + "ventilation: {hood: {zzz: 1}}\n",
        '<text>:4:22: unknown key "zzz"; known here are kind, opening_width, opening_height, '
        "face_velocity, tested, heat_inside, exhaust",
    ),
    "unknown word": (
        "title: t\ntrain:\n- {id: a, kind: outlet, to: hod}\n",
        "<text>:3:29: unknown word \"hod\": write hood, room or outdoors (did you mean 'hood'?)",
    ),
    "missing reagent": (
        TRAIN + GAS + "flows:\n  feed: {" + FEED.replace("reagent: argon", "reagent: argn") + "}\n",
        "<text>:7:19: there is no reagent \"argn\" (did you mean 'argon'?)",
    ),
    "flow into no item": (
        TRAIN + GAS + "flows:\n  feed: {" + FEED.replace("into: a", "into: b") + "}\n",
        '<text>:7:32: there is no item "b"',
    ),
    "heat heats no item": (
        "title: t\ntrain:\n- {id: tube, kind: reactor}\n"
        "heat:\n  burner: {heats: tub, kind: burner, hottest: 900 degC}\n",
        "<text>:5:19: there is no item \"tub\" (did you mean 'tube'?)",
    ),
    "catalyst in no item": (
        "title: t\ntrain:\n- {id: tube, kind: reactor}\ncatalysts:\n  nickel: {in: tubes}\n",
        "<text>:5:16: there is no item \"tubes\" (did you mean 'tube'?)",
    ),
    "from no item": (
        "title: t\ntrain:\n- {id: hose, kind: line, from: [hoze]}\n",
        "<text>:3:33: there is no item \"hoze\" (did you mean 'hose'?)",
    ),
    "share of an item that is not upstream": (
        TRAIN + "- {id: b, kind: line, share: {c: 50 %}}\n",
        '<text>:4:31: there is no upstream item "c"',
    ),
    "shares above the whole": (
        TRAIN
        + "- {id: b, kind: line, from: a, share: {a: 60 %}}\n"
        + "- {id: c, kind: line, from: a, share: {a: 50 %}}\n",
        '<text>:5:43: the shares of "a" add to 110 %, more than 100 %',
    ),
    "shares below the whole": (
        TRAIN
        + "- {id: b, kind: line, from: a, share: {a: 60 %}}\n"
        + "- {id: c, kind: line, from: a, share: {a: 30 %}}\n",
        '<text>:5:43: the shares of "a" add to 90 %, not 100 %',
    ),
    "step names no flow": (
        TRAIN
        + GAS
        + "flows:\n  feed: {"
        + FEED
        + "}\nprocedure:\n- {step: purge, duration: 1 min, flows: {fed: on}}\n",
        "<text>:9:42: there is no flow \"fed\" (did you mean 'feed'?)",
    ),
    "step names no heat source": (
        TRAIN + "procedure:\n- {step: purge, duration: 1 min, heat: {oven: on}}\n",
        '<text>:5:41: there is no heat source "oven"',
    ),
    "step of no length": (
        TRAIN + "procedure:\n- {step: purge, duration: 0 min}\n",
        '<text>:5:27: time "0 min" must be above zero',
    ),
    "step with another kind of rate": (
        TRAIN
        + GAS
        + "flows:\n  feed: {"
        + FEED
        + "}\nprocedure:\n- {step: run, duration: 1 min, flows: {feed: 1 mol/h}}\n",
        '<text>:9:46: a molar flow, but the rate of "feed" is a volume flow',
    ),
    "at_most below rate": (
        TRAIN + GAS + "flows:\n  feed: {" + FEED + ", at_most: 0.5 L/min}\n",
        "<text>:7:78: at_most is below rate",
    ),
    "hottest below the setting": (
        TRAIN + "heat:\n  oven: {heats: a, kind: oven, set_temperature: 300 degC,"
        " hottest: 500 K}\n",
        "<text>:5:68: hottest is below set_temperature",
    ),
    "hottest below a step's setting": (
        TRAIN + "heat:\n  oven: {heats: a, kind: oven, set_temperature: 300 degC,"
        " hottest: 320 degC}\n"
        "procedure:\n  - {step: run, duration: 1 min, heat: {oven: 330 degC}}\n",
        '<text>:7:47: more than "oven" can reach: its hottest is less',
    ),
    "fractions below the whole": (
        TRAIN + "reagents:\n  mix: {state: gas, composition: {hydrogen: 5 %, argon: 90 %}}\n",
        "<text>:5:21: fractions add to 95 %, not 100 %",
    ),
    "two rests": (
        TRAIN + "reagents:\n  mix: {state: gas, composition: {hydrogen: rest, argon: rest}}\n",
        "<text>:5:21: only one component may be 'rest'",
    ),
    "fraction of another basis": (
        TRAIN + "reagents:\n  mix: {state: gas, composition: {NO: 5 wt%, argon: rest}}\n",
        '<text>:5:39: "5 wt%" is a mass fraction, but the basis is mole',
    ),
    "bare number above one": (
        TRAIN + "reagents:\n  mix: {state: gas, composition: {NO: 5, argon: rest}}\n",
        "<text>:5:39: fraction above 1 (100 %) \"5\": write '5 %', or 'rest'",
    ),
    "negative length": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: -5 mm\n",
        '<text>:5:11: negative length "-5 mm"',
    ),
    "not a number": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: NaN mm\n",
        '<text>:5:11: "NaN mm" is not a finite number',
    ),
    "infinite": (
        "title: t\ntrain:\n- id: a\n  kind: line\n  length: .inf\n",
        '<text>:5:11: ".inf" is not a finite number',
    ),
    "coulomb": (
        TRAIN + "ambient: {temperature: 25 C}\n",
        "<text>:4:24: \"25 C\": 'C' is coulomb in unit systems: write '25 degC'",
    ),
    "farad": (
        TRAIN + "ambient: {temperature: 77 F}\n",
        "<text>:4:24: \"77 F\": 'F' is farad in unit systems: write '77 degF'",
    ),
    "gauge or absolute": (
        "title: t\ntrain:\n- {id: a, kind: line, rating: 0.4 bar}\n",
        "<text>:3:31: \"0.4 bar\" does not say which: write '0.4 bar gauge' or '0.4 bar absolute'",
    ),
    "ambient in gauge": (
        TRAIN + "ambient: {pressure: 0 bar gauge}\n",
        '<text>:4:21: "0 bar gauge" is a gauge pressure, an absolute one is expected',
    ),
    "circle": (
        "title: t\ntrain:\n- {id: a, kind: line, from: c}\n- {id: b, kind: line}\n"
        "- {id: c, kind: line}\n",
        "<text>:3:29: the train runs in a circle: a -> b -> c -> a",
    ),
    "circle of one": (
        "title: t\ntrain:\n- {id: a, kind: line, from: [a]}\n",
        "<text>:3:23: the train runs in a circle: a -> a",
    ),
    "duplicate id": (
        TRAIN + "- {id: a, kind: line}\n",
        '<text>:4:8: duplicate item id "a", first at 3:8',
    ),
    "duplicate step": (
        TRAIN + "procedure:\n- {step: run, duration: 1 s}\n- {step: run, duration: 1 s}\n",
        '<text>:6:10: duplicate step name "run", first at 5:10',
    ),
    "duplicate key": (
        "title: t\ntitle: u\ntrain:\n- {id: a, kind: line}\n",
        '<text>:2:1: duplicate key "title", first at 1:1',
    ),
    "dot in a name": (
        TRAIN + "reagents:\n  a.b: {state: gas, composition: {argon: 100 %}}\n",
        "<text>:5:3: name \"a.b\" contains '.', which separates the parts of a path, "
        "other than between digits",
    ),
    "odd letter in an id": (
        "title: t\ntrain:\n- {id: a@b, kind: line}\n",
        '<text>:3:8: id "a@b" contains "@": use letters, digits, space, hyphen, underscore',
    ),
    "empty train": ("title: t\ntrain: []\n", "<text>:2:1: is empty"),
    "no train": ("title: t\n", '<text>:1:1: "train" is missing'),
    "list where a mapping goes": (
        TRAIN + "flows: [a]\n",
        "<text>:4:1: expected a mapping (key: value lines), found a list; "
        "each stands under a name of its own, such as flows: {first: …}",
    ),
    "empty section": (
        TRAIN + "flows:\n",
        "<text>:4:7: expected a mapping (key: value lines), found nothing",
    ),
    "list where text goes": (TRAIN + "purpose: [a]\n", "<text>:4:1: expected text, found a list"),
    "not yes or no": (
        "title: t\ntrain:\n- {id: a, kind: line, open: true}\n",
        '<text>:3:29: unknown word "true": write yes or no',
    ),
    "empty": ("", "<text>: is empty"),
    "only a comment": ("# nothing\n", "<text>: is empty"),
    "a list at the top": ("- a\n", "<text>:1:1: expected a mapping (key: value lines) at the top"),
    "two documents": (
        TRAIN + "---\ntitle: u\n",
        "<text>:4:1: a second document starts here; one per file",
    ),
    "tag": (
        "title: !!python/name:os.system x\n",
        '<text>:1:8: tag "!!python/name:os.system" is not allowed: all values are text',
    ),
    "key that is a list": ("? [a]\n: b\n", "<text>:1:3: a key must be plain text"),
    "merge key": (
        "title: t\ntrain:\n- &a {id: a, kind: line}\n- {<<: *a, id: b, kind: line}\n",
        "<text>:4:4: merge keys (<<) are not supported",
    ),
    "recursive alias": ("title: &a [*a]\n", '<text>:1:12: alias "a" contains itself'),
    "alias without anchor": ("title: *a\n", '<text>:1:8: alias "a" has no anchor before it'),
    "deep": ("title: " + "[" * 50, "<text>:1:47: nested more than 40 deep"),
    "syntax": (
        "title: [a\ntrain: b\n",
        "<text>:2:6: not valid YAML: did not find expected ',' or ']'",
    ),
    "control character": (
        "title: a\x1b[31m\n",
        "<text>:1:9: control character U+001B is not allowed",
    ),
    "binary": ("title: \0", "<text>: is binary, not text"),
    "surrogate": ("title: \ud800", "<text>:1:8: is not UTF-8 text"),
}


@pytest.mark.parametrize(("text", "message"), TEXTS.values(), ids=TEXTS.keys())
def test_wrong_text(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        loads(text)
    assert str(caught.value) == message


def test_all_errors_of_a_file_at_once_in_file_order() -> None:
    text = (
        "title: t\n"
        "train:\n"
        "- {id: a, kind: line, lenght: 1 m, wall: -2 mm}\n"
        "- {id: b, kind: line, rating: 0.4 bar}\n"
        "flows:\n"
        "  feed: {reagent: air, into: c, rate: 5 mm}\n"
        "heat:\n"
        "  oven: {heats: a, kind: furnace, set_temperature: 25 C}\n"
    )
    with pytest.raises(InputError) as caught:
        loads(text, "x.yaml")
    assert str(caught.value).splitlines() == [
        "x.yaml:3:23: unknown key \"lenght\" (did you mean 'length'?)",
        'x.yaml:3:42: negative length "-2 mm"',
        "x.yaml:4:31: \"0.4 bar\" does not say which: write '0.4 bar gauge' or '0.4 bar absolute'",
        'x.yaml:6:19: there is no reagent "air"',
        'x.yaml:6:30: there is no item "c"',
        "x.yaml:6:39: \"5 mm\" is no flow: write for example '200 mL/min'",
        "x.yaml:8:52: \"25 C\": 'C' is coulomb in unit systems: write '25 degC'",
    ]


def test_alias_bomb_is_refused_where_it_passes_the_limit() -> None:
    # Nine levels of nine: 9**9 values if it were expanded.
    lines = ["a0: &a0 [" + ", ".join(["x"] * 9) + "]"]
    lines += [f"a{i}: &a{i} [" + ", ".join([f"*a{i - 1}"] * 9) + "]" for i in range(1, 9)]
    with pytest.raises(InputError) as caught:
        loads("\n".join(lines))
    (problem,) = caught.value.problems
    # Level 3 alone has 9**4 + ... values and level 4 more than 20,000.
    assert problem.line == 5
    assert problem.message == "more than 20000 values (aliases expanded)"


def _sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(100_000_000)


FILES: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda path: None, "no such file"),
    "a directory": (lambda path: path.mkdir(), "is a directory, not a file"),
    "100 MB": (_sparse, "is too large: 100000000 bytes, at most 4000000"),
    "empty": (lambda path: path.write_bytes(b""), "is empty"),
    "binary": (lambda path: path.write_bytes(b"\x7fELF\0\0"), "is binary, not text"),
    "a link to itself": (
        lambda path: path.symlink_to(path),
        "cannot be read: Too many levels of symbolic links",
    ),
    "a device": (lambda path: path.symlink_to("/dev/zero"), "is not a regular file"),
}


@pytest.mark.parametrize(("build", "message"), FILES.values(), ids=FILES.keys())
def test_wrong_file(tmp_path: Path, build: Callable[[Path], object], message: str) -> None:
    path = tmp_path / "x.yaml"
    build(path)
    with pytest.raises(InputError) as caught:
        load(path)
    assert str(caught.value) == f"{path}: {message}"


def test_not_utf_8_names_the_first_wrong_byte(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_bytes("title: é\npurpose: é".encode() + b"\xe9\n")
    with pytest.raises(InputError) as caught:
        load(path)
    assert str(caught.value) == f"{path}:2:11: is not UTF-8 text"


def test_a_message_shows_no_control_sequence_of_the_file() -> None:
    with pytest.raises(InputError) as caught:
        loads(TRAIN + '"\\e[31m": 1\n')
    assert str(caught.value).startswith('<text>:4:1: unknown key "?[31m"; known here are title, ')
