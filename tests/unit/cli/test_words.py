"""``benchgate words`` and ``schema``: the words a scenario may use, with those of a plugin."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review import Engine, InputError
from review.cli import group

PLUGIN = """
from pathlib import Path
from review import Check, ItemKind, hookimpl

@hookimpl
def check():
    return Check("lamps", "Lamps", "1", ("lamps",), ("all else",), ("invented",))

@hookimpl
def materials():
    return [Path(__file__).parent / "data"]

@hookimpl
def item_kinds():
    return [ItemKind("plasma cell", "Plasma cell", ("gas_volume",), synonyms=("finger",))]
"""
WORDS = "heat:\n  plasma lamp: {energy: flame, draught: strong, synonyms: [plasma]}\n"
TEXT = """title: a lamp
train:
  - {id: tube, kind: finger, gas_volume: 1 L}
  - {id: out, kind: outlet, to: hood}
heat:
  lamp: {heats: tube, kind: Plasma, hottest: 300 degC}
"""


@pytest.fixture(scope="module")
def plugin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plugin")
    (folder / "data").mkdir()
    (folder / "data" / "words.yaml").write_text(WORDS)
    (folder / "lamps.py").write_text(PLUGIN)
    return folder / "lamps.py"


def said(*arguments: str) -> Result:
    return CliRunner().invoke(group, list(arguments))


@pytest.mark.parametrize(
    ("kind", "word"),
    [("heat", "spirit lamp"), ("safeguard", "safety glasses"), ("joint", "hose barb"),
     ("item", "gas washing bottle"), ("material", "PTFE"), ("substance", "nitrogen"),
     ("catalyst form", "gauze")],
)  # fmt: skip
def test_a_list_is_printed_with_its_synonyms(kind: str, word: str) -> None:
    done = said("words", kind)
    assert done.exit_code == 0
    assert word in " ".join(done.output.split())


def test_a_list_that_is_not_there_is_wrong_input() -> None:
    done = CliRunner().invoke(group, ["words", "joit"])
    assert done.exit_code == 2
    assert "did you mean 'joint'?" in done.output


def test_a_plugin_extends_lists_schema_and_items(plugin: Path) -> None:
    assert "plasma lamp" in said("words", "heat", "--plugin", str(plugin)).output
    assert "plasma lamp" not in said("words", "heat").output
    assert "plasma cell finger" in said("words", "item", "--plugin", str(plugin)).output
    schema = json.loads(said("schema", "--plugin", str(plugin)).output)
    kinds = schema["$defs"]["Heat"]["properties"]["kind"]["enum"]
    assert {"plasma lamp", "plasma", "spirit lamp"} <= set(kinds)
    assert "finger" in schema["$defs"]["ItemModel"]["properties"]["kind"]["enum"]


def test_a_scenario_may_use_the_words_of_a_plugin(plugin: Path) -> None:
    engine = Engine(plugin_files=[plugin])
    scenario = engine.loads(TEXT)
    assert scenario.heat["lamp"].energy == "flame"
    assert engine.review(scenario, upsets=False).facts["has_flame"]
    with pytest.raises(InputError):
        Engine().loads(TEXT)


def test_what_is_assumed_stands_in_the_report() -> None:
    text = TEXT.replace("Plasma", "torch").replace("finger", "trap")
    review = Engine().review(
        Engine().loads(text + "assumed: [train.tube.gas_volume]\n"), upsets=False
    )
    told = {section.title: section.lines for section in review.sections}
    assert told["Assumed in the file, to be measured"] == ("train.tube.gas_volume",)
