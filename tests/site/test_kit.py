"""The test kit: it passes sound plugins and says of each unsound one what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from review import InputError
from review.interface.result import Case
from review.testing import SCENARIO, assert_grade, conformance, matches, measure, review_with

Write = Callable[..., Path]
BULB = (Path(__file__).parent / "bulb.yaml").read_text("utf-8")
MOVES = 'moves={"flows.*.rate": "up"}'


@pytest.fixture
def sound(plugin: Write) -> Callable[..., Path]:
    """The plugin with a declared direction and texts of its file changed."""

    def write(name: str, *changes: tuple[str, str], more: str = "", scalar: bool = False) -> Path:
        file = plugin(name, more, scalar=scalar)
        text = file.read_text("utf-8")
        for old, new in [('validity="everywhere")', f'validity="everywhere", {MOVES})'), *changes]:
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        file.write_text(text, "utf-8")
        return file

    return write


def test_a_sound_plugin_passes(sound: Callable[..., Path]) -> None:
    conformance(sound("good"), BULB)
    conformance(sound("single", scalar=True), BULB)


@pytest.mark.parametrize("name", ["mechanical_stability"])
def test_built_in_plugins_are_asked_the_same(name: str) -> None:
    demo = Path(__file__).parents[2] / "scenarios" / "bare_frame.yaml"
    try:
        conformance(name, demo)
    except AssertionError as error:
        # The demo does not show every direction; nothing else may be wrong.
        lines = str(error).splitlines()[1:]
        assert lines and all("give a scenario that shows it" in line for line in lines), error


#: What each does wrong: changed texts, a text behind, and what is said of it.
WRONG: dict[str, tuple[list[tuple[str, str]], str, str]] = {
    "blank_source": ([('sources=("z",)', 'sources=(" ",)')], "", "an entry of sources is blank"),
    "no_check": ([("def check():", "def checks():")], "", "no hook 'checks'"),
    "blank_unit": ([('unit="mol/s"', 'unit=" "')], "", "its unit is blank"),
    "not_si": ([('unit="mol/s"', 'unit="mmol/s"')], "", "is not the SI unit"),
    "other_dimension": ([('display="mol/s"', 'display="bar gauge"')], "", "is no unit of what"),
    "no_such_unit": ([('display="mol/s"', 'display="furlongs"')], "", "furlongs"),
    "still": ([(MOVES, "moves={}")], "", "moves names no number"),
    "other_way": ([(MOVES, 'moves={"flows.*.rate": "down"}')], "", "does the opposite"),
    "unmoved": (
        [(MOVES, 'moves={"train.*.gas_volume": "up"}')], "", "but nothing moved",
    ),
    "no_such_number": (
        [(MOVES, 'moves={"train.*.lenght": "up"}')], "", "no scenario given has such a number",
    ),
    "zero_for_missing": (
        [],
        """
        from dataclasses import replace
        def compute(setup):
            m = setup.measure(KIND, setup.places[0].flow, "bulb")
            yield replace(m, status=np.full(m.status.shape, 3, dtype=np.uint8))
        """,
        "a value must be NaN exactly where",
    ),
    "sees_other_runs": (
        [],
        """
        def compute(setup):
            flow = setup.places[0].flow
            mean = flow.revised(flow.value + 1e-3 * flow.value.mean(), flow.status)
            yield setup.measure(KIND, mean, "bulb")
        """,
        "must not see the others",
    ),
    "counts_runs": (
        [],
        """
        def compute(setup):
            flow = setup.places[0].flow
            last = np.arange(setup.trials) % setup.runs.size == 1
            yield setup.measure(KIND, flow.revised(flow.value + 1e-6 * last, flow.status), "bulb")
        """,
        "must not see the others",
    ),
    "remembers": (
        [],
        """
        CALLS = []
        def compute(setup):
            CALLS.append(1)
            flow = setup.places[0].flow
            more = flow.revised(flow.value + 1e-6 * len(CALLS), flow.status)
            yield setup.measure(KIND, more, "bulb")
        """,
        "must not see the others",
    ),
    "takes_one_run": (
        [],
        """
        def compute(setup):
            value = float(setup.places[0].flow.value.reshape(setup.shape)[0].item())
            yield setup.measure(KIND, Quantity.of(value), "bulb")
        """,
        "it must take arrays over runs, or be scalar",
    ),
    "raises": ([], "def compute(setup):\n    raise OSError('odd')", "OSError: odd"),
    "does_not_load": ([], "import nowhere_to_be_found", "nowhere_to_be_found"),
    "bad_upset": (
        [],
        "@hookimpl\ndef upsets(scenario):\n    return [Overlay('u', 'u', 'upset', {'no.no': 1.0})]",
        "no number 'no.no'",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_said(sound: Callable[..., Path], name: str) -> None:
    changes, more, said = WRONG[name]
    with pytest.raises(AssertionError) as caught:
        conformance(sound(name, *changes, more=more), BULB)
    assert said in str(caught.value)
    assert name in str(caught.value)


def test_criteria_must_be_sound(sound: Callable[..., Path]) -> None:
    file = sound("astray")
    rules = file.with_suffix(".yaml")
    rules.write_text(rules.read_text().replace("kind: astray.number", "kind: astray.nubmer"))
    with pytest.raises(AssertionError, match="did you mean 'astray.number'"):
        conformance(file, BULB)


def test_reviews_take_text_paths_plugins_and_rules(
    sound: Callable[..., Path], tmp_path: Path
) -> None:
    rules = tmp_path / "site.yaml"
    rules.write_text("name: site\ncriteria:\n  - {id: good.number, bands: {acceptable: 1.0e-9}}\n")
    plain = review_with(plugin_files=[sound("good")], scenario=BULB)
    assert_grade(plain, "good.number", "acceptable")
    strict = review_with(plugin_files=[tmp_path / "good.py"], rules=[rules], scenario=BULB)
    assert_grade(strict, "good.number", "unacceptable", at="bulb", case="plan")
    assert measure(strict, "good.number", "bulb").value.shape[0] == 1 + len(strict.trials.steps)
    assert review_with(scenario=SCENARIO, upsets=False).trials.runs[1:] == ()
    with pytest.raises(InputError):
        review_with(scenario=tmp_path / "none.yaml")


@pytest.mark.parametrize(
    ("criterion", "at", "case", "said"),
    [
        ("pressure.workin", None, None, "did you mean 'pressure.working'"),
        ("pressure.working", "bulp", None, "has no finding; there are some for"),
        ("flammability.envelope", None, None, "it does not apply: nothing that burns"),
        ("pressure.working", None, "plan", "is not"),
    ],
)
def test_a_grade_that_is_not_there(
    criterion: str, at: str | None, case: Case | None, said: str
) -> None:
    review = review_with(scenario=BULB)
    with pytest.raises(AssertionError) as caught:
        assert_grade(review, criterion, "undetermined", at=at, case=case)
    assert said.replace("is not", "not undetermined") in str(caught.value)


def test_a_measure_that_is_not_there() -> None:
    review = review_with(scenario=BULB)
    for kind, at, of, said in (
        ("pressure.workin_over_rating", "bulb", "", "did you mean"),
        ("pressure.working_over_rating", "blub", "", "did you mean 'bulb'"),
        ("pressure.working_over_rating", "bulb", "gold", "there it is of ['']"),
    ):
        with pytest.raises(AssertionError) as caught:
            measure(review, kind, at, of)
        assert said in str(caught.value)


def test_the_documented_example(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tests shown in DEVELOPERS.md pass on the plugin and the scenario shown there."""
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    blocks = re.findall(r"^```\w+\n(.*?)^```$", page, re.M | re.S)
    for block in blocks:
        if named := re.match(r"# (stored_energy\.\w+|small\.yaml)\n", block):
            (tmp_path / named[1]).write_text(block, "utf-8")
    (shown,) = [block for block in blocks if "from review.testing" in block]
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    exec(shown, names)
    tests = [function for name, function in names.items() if name.startswith("test_")]
    assert len(tests) == 2
    for test in tests:
        test()


def test_patterns() -> None:
    """By hand: as many parts, each equal, any for a star, or what a name stands for."""
    burns = {"<fuel>": "hydrogen".__eq__}
    assert matches("a.*.c", "a.b b.c", {})
    assert not matches("a.*", "a.b.c", {})
    assert not matches("a.b", "a.c", {})
    assert matches("x.<fuel>", "x.hydrogen", burns)
    assert not matches("x.<fuel>", "x.argon", burns)
