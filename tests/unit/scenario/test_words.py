"""Closed lists of words: what the trade calls a thing is one word, all else is an error."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest
import yaml

from review.scenario import InputError, loads
from review.scenario.words import MARKS, Words, WordsError

TRAIN = "title: a\ntrain:\n  - {id: tube, kind: line}\n  - {id: out, kind: outlet, to: hood}\n"


def heated(kind: str) -> str:
    return TRAIN + f"heat:\n  h: {{heats: tube, kind: {kind}, hottest: 300 degC}}\n"


@pytest.mark.parametrize(
    ("text", "word", "energy"),
    [
        ("gas torch", "gas torch", "flame"),
        ("Torch", "gas torch", "flame"),
        ("spirit lamp", "spirit lamp", "flame"),
        ("alcohol burner", "spirit lamp", "flame"),
        ("Bunsen  burner", "burner", "flame"),
        ("candle", "candle", "flame"),
        ("hotplate", "hot plate", "electric"),
        ("muffle_furnace", "furnace", "electric"),
        ("heating mantle", "heating mantle", "electric"),
        ("oil-bath", "oil bath", "bath"),
        ("steam jacket", "steam bath", "bath"),
        ("sand bath", "sand bath", "electric"),
    ],
)
def test_a_heater_by_any_name_of_the_trade(text: str, word: str, energy: str) -> None:
    heat = loads(heated(text)).heat["h"]
    assert (heat.kind, heat.energy) == (word, energy)


@pytest.mark.parametrize(
    ("section", "near"),
    [
        ("heat: {h: {heats: tube, kind: gas toch, hottest: 300 degC}}", "gas torch"),
        ("safeguards: [{kind: safety glases}]", "safety glasses"),
        ("catalysts: {silver: {in: tube, form: gauxe}}", "gauze"),
        ("ventilation: {hood: {kind: fume cubboard}}", "fume cupboard"),
        ("ventilation: {hood: {exhaust: outsid}}", "outside"),
    ],
)
def test_an_unknown_word_is_an_error_with_the_nearest_spelling(section: str, near: str) -> None:
    with pytest.raises(InputError) as wrong:
        loads(TRAIN + section + "\n")
    (problem,) = wrong.value.problems
    assert problem.suggestion == near
    assert problem.line == 5


def test_a_word_far_from_all_says_where_they_are_listed() -> None:
    with pytest.raises(InputError, match="benchgate words 'heat' lists them"):
        loads(heated("xyzzy"))


def test_a_plugin_adds_words(tmp_path: Path) -> None:
    own = tmp_path / "words.yaml"
    own.write_text("heat:\n  plasma torch: {energy: flame, draught: strong, synonyms: [plasma]}\n")
    shipped = Words.built_in()
    words = Words([*_files(), own])
    assert loads(heated("plasma"), words=words).heat["h"].energy == "flame"
    assert len(words.list("heat")) == len(shipped.list("heat")) + 1
    with pytest.raises(InputError):
        loads(heated("plasma"))


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("heat: {lamp: {energy: light, draught: mild}}", "energy: write electric or flame or bath"),
        ("heat: {lamp: {energy: electric}}", "draught"),
        ("heat: {lamp: {energy: electric, draught: mild, synonyms: [torch]}}", "already a word"),
        ("heat: {lamp: {energy: electric, draught: mild, colour: red}}", "unknown key 'colour'"),
        ("heet: {}", "is no list of words"),
        ("heat: [lamp]", "a mapping of words"),
        ("heat: {lamp: {energy: electric, draught: mild, synonyms: torch}}", "a list of texts"),
        ("[a]", "a mapping of lists"),
        ("a: [", "did not find expected node content"),
    ],
)
def test_a_wrong_file_of_words(tmp_path: Path, text: str, wrong: str) -> None:
    own = tmp_path / "words.yaml"
    own.write_text(text)
    with pytest.raises(WordsError, match=wrong):
        Words([*_files(), own])


def _files() -> list[Path]:
    from review.scenario.words import FILE, built_in_folder

    return [built_in_folder() / FILE]


def test_every_list_has_words_and_each_tells_all_its_marks() -> None:
    data = yaml.safe_load(_files()[0].read_text())
    assert set(data) == set(MARKS)
    for kind, marks in MARKS.items():
        for word in Words.built_in().list(kind):
            assert set(word.marks) == set(marks)


def test_a_word_survives_being_sent_to_another_process() -> None:
    heat = pickle.loads(pickle.dumps(loads(heated("torch"))))
    assert heat.heat["h"].energy == "flame"


@pytest.mark.parametrize(
    ("one", "other"),
    [("tube 1", "Tube 1"), ("tube 1", "tube1"), ("tube 1", "tube l"), ("tube-1", "tube_1"),
     ("trap O", "trap 0"), ("type", "t\u0443pe"), ("cope", "\u0441\u043ep\u0435")],
)  # fmt: skip
def test_names_that_look_alike_are_an_error(one: str, other: str) -> None:
    text = f"title: a\ntrain:\n  - {{id: {one}, kind: line}}\n  - {{id: {other}, kind: outlet}}\n"
    with pytest.raises(InputError, match="can be taken for"):
        loads(text)


def test_names_that_differ_to_the_eye_are_none() -> None:
    assert loads("title: a\ntrain:\n  - {id: tube 1, kind: line}\n  - {id: tube 2, kind: outlet}\n")


@pytest.mark.parametrize(
    ("text", "of", "value"),
    [("50 ppm", "fraction", 50e-6), ("10 % LFL", "lower limit", 0.1),
     ("20 % of the lower limit", "lower limit", 0.2), ("10 % LEL", "lower limit", 0.1),
     ("0.1 bar gauge", "pressure", 111325.0), ("80 degC", "temperature", 353.15)],
)  # fmt: skip
def test_an_alarm_point_says_what_it_is(text: str, of: str, value: float) -> None:
    alarm = loads(TRAIN + f"safeguards: [{{kind: detector, alarm: {text}}}]\n").safeguards[0].alarm
    assert alarm is not None
    assert (alarm.of, alarm.value, str(alarm)) == (of, pytest.approx(value), text)


@pytest.mark.parametrize("text", ["10 pmp", "0.1 bar", "loud"])
def test_an_alarm_point_that_says_nothing_is_an_error(text: str) -> None:
    with pytest.raises(InputError, match="is no alarm point"):
        loads(TRAIN + f"safeguards: [{{kind: detector, alarm: {text}}}]\n")


@pytest.mark.parametrize(
    ("word", "in_full"),
    [("safeguards: [gloves]", "safeguards: [{kind: gloves}]"),
     ("reagents: {a: {state: gas, composition: argon}}",
      "reagents: {a: {state: gas, composition: {argon: 100 %}}}"),
     ("reagents: {a: {state: gas, composition: argon}}\n"
      "flows: {f: {reagent: a, into: tube, rate: 1 L/min, reference: normal, instrument: none}}",
      "reagents: {a: {state: gas, composition: argon}}\n"
      "flows: {f: {reagent: a, into: tube, rate: 1 L/min, reference: normal,"
      " instrument: {kind: none}}}")],
)  # fmt: skip
def test_a_word_alone_stands_for_its_section(word: str, in_full: str) -> None:
    one, other = (loads(TRAIN + text + "\n") for text in (word, in_full))
    assert one.model_dump() == other.model_dump()
    assert one.safeguards or one.reagents
