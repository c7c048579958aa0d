"""What `benchgate new` writes works at once, and it never writes over anything."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from review import Engine, Reference, load, loads
from review.cli.asking import gas_names
from review.cli.building import Answers, Feed, Part, written

Run = Callable[..., Result]


def python(*arguments: object, cwd: Path, path: Path) -> subprocess.CompletedProcess[str]:
    """This interpreter in a folder, with one more place to import from."""
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(path)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_new_check_is_installed_and_passes_its_tests(run: Run, tmp_path: Path) -> None:
    assert run("new", "check", "lamp_glow").exit_code == 0
    project, site = tmp_path / "lamp_glow", tmp_path / "site"
    done = python(
        *("-m", "pip", "install", "-q", "--no-deps", "--no-build-isolation", "--no-index"),
        *("--target", site, project),
        cwd=tmp_path,
        path=site,
    )
    assert done.returncode == 0, done.stderr
    tests = python("-m", "pytest", "-p", "no:cacheprovider", cwd=project, path=site)
    assert tests.returncode == 0, tests.stdout
    assert "4 passed" in tests.stdout
    code = "from review.cli import main; main(['checks'])"
    listed = python("-c", code, cwd=tmp_path, path=site).stdout
    assert "Lamp glow (lamp_glow 0.1.0)" in listed
    set_up = str(project / "tests/set_up.yaml")
    code = f"from review.cli import main; main(['check', '--full', {set_up!r}])"
    shown = python("-c", code, cwd=tmp_path, path=site).stdout
    assert "Plugins: lamp_glow " in shown


def test_a_new_check_can_be_loaded_as_a_file(run: Run, tmp_path: Path) -> None:
    """Without installing it: the file in the package."""
    run("new", "check", "lamp_glow", "--into", tmp_path / "deep" / "down")
    folder = tmp_path / "deep" / "down" / "lamp_glow"
    engine = Engine(plugin_files=[folder / "lamp_glow" / "__init__.py"])
    assert not engine.failures
    assert "lamp_glow.energy" in engine.kinds
    assert "lamp_glow.energy" in {c.id for c in engine.ruleset.criteria}


def test_a_new_check_is_tidy(run: Run, tmp_path: Path) -> None:
    """No word of the template is left over, and its lines are no longer than ours."""
    run("new", "check", "a_rather_long_name_of_a_check")
    for file in (tmp_path / "a_rather_long_name_of_a_check").rglob("*"):
        if file.is_file():
            text = file.read_text("utf-8")
            assert "$" not in text and ".tmpl" not in text, file
            if file.suffix == ".py":
                compile(text, str(file), "exec")


def test_a_new_ruleset_loads_and_changes_what_it_says(run: Run, tmp_path: Path) -> None:
    assert run("new", "ruleset", "our_bench").exit_code == 0
    file = tmp_path / "our_bench.yaml"
    shown = run("rules", "--rules", file)
    assert shown.exit_code == 0
    assert "our_bench.second_person" in shown.stdout
    before, after = Engine().ruleset, Engine(rules_files=[file]).ruleset
    old = {c.id: c for c in before.criteria}
    changed = {c.id for c in after.criteria if c.layer == "our_bench"}
    assert changed == {"pressure.working", "our_bench.second_person"}
    new = {c.id: c for c in after.criteria}["pressure.working"]
    for case in ("plan", "step", "upset"):
        edges = [c.bands[case].acceptable for c in (new, old["pressure.working"])]
        assert edges[0] is not None and edges[1] is not None and edges[0] < edges[1]
    assert after.limits["readiness.cool_enough"].value == 323.15  # 50 degC
    assert before.limits["readiness.cool_enough"].value != 323.15
    assert len(after.contacts) == len(before.contacts) + 1
    assert after.loosened == before.loosened


def test_a_new_scenario_loads_and_is_reviewed(run: Run, tmp_path: Path) -> None:
    assert run("new", "scenario").exit_code == 0
    done = run("check", "scenario.yaml")
    assert done.exit_code == 0, done.output
    assert load(tmp_path / "scenario.yaml").title == "Name of the set-up"
    assert run("new", "scenario", "second").exit_code == 0
    text = (tmp_path / "scenario.yaml").read_text()
    assert (tmp_path / "second.yaml").read_text() == text
    # The first line wires the schema beside it into an editor.
    first, schema = text.splitlines()[0], (tmp_path / "benchgate.schema.json").read_text()
    assert first == "# yaml-language-server: $schema=benchgate.schema.json"
    assert json.loads(schema) == json.loads(run("schema").stdout)


def test_questions_lead_to_a_whole_train(run: Run, tmp_path: Path) -> None:
    said = (
        'Oxide: "first" try\nhydrogn\nhydrogen, N2\ncylinder\n50\n50 mL/min\ngenerator\n'
        "200 mL/min\npushed\nhose 6x8, reactr\nhose 6x8, reactor, hose 6x8, 250 mL wash bottle\n"
        "\nnone\nwater\ny\n2\ntube furnase\ntube furnace\nhot\n320 degC\nCuO(s) + H2 -> Cu(s)\n"
        "CuO(s) + H2 -> Cu(s) + H2O\nnone\nhood\n60 m3\nn\n2\n"
    )
    done = run("new", "scenario", "--ask", said=said)
    assert done.exit_code == 0, done.output
    wrong = ("hydrogn", '"50"', "reactr", "an empty one is a trap", "tube furnace", "balanced")
    assert [text for text in wrong if text not in done.stderr] == []
    found = load(tmp_path / "scenario.yaml")
    assert found.title == 'Oxide: "first" try'
    kinds = ["line", "reactor", "line", "wash bottle", "outlet"]
    assert [item.kind for item in found.train] == kinds
    assert {name: r.held.as_ for name, r in found.reagents.items() if r.held} == {
        "hydrogen": "cylinder", "nitrogen": "generator",
    }  # fmt: skip
    assert found.train[1].reactions[0].limiting == "hydrogen"
    assert found.heat["heater"].hottest == pytest.approx(593.15)
    assert found.train[0].inner_diameter == pytest.approx(6e-3)
    assert found.ventilation is not None and found.ventilation.hood is not None
    assert found.stands_by_itself
    said_by_hand = {"flows.hydrogen feed.rate", "heat.heater.hottest", "train.hose 6x8.size"}
    assert not any(found.is_assumed(path) for path in said_by_hand)
    for guess in ("train.reactor.wall", "flows.hydrogen feed.at_most", "procedure.run.duration"):
        assert found.is_assumed(guess)
    assert run("check", "scenario.yaml").exit_code in (0, 1)


def test_a_train_that_is_sucked_ends_with_its_pump(run: Run, tmp_path: Path) -> None:
    said = (
        "A\nair\nroom air\n1 L/min\nsucked\nhose 6x8, wash bottle\nmembrane pomp\nmembrane pump\n"
        "4 % NaOH in water\nn\nroom\n60 m3\nn\n1\n"
    )
    done = run("new", "scenario", "--ask", said=said)
    assert done.exit_code == 0, done.output
    found = load(tmp_path / "scenario.yaml")
    assert [item.kind for item in found.train] == ["line", "wash bottle", "pump", "outlet"]
    assert found.train[2].suction is not None and found.is_assumed("train.membrane pump.suction")
    lye = found.reagents["sodium hydroxide 4 % in water"]
    assert lye.composition == pytest.approx({"sodium hydroxide": 0.04, "water": 0.96})


def test_two_cylinders_join_at_a_tee(run: Run, tmp_path: Path) -> None:
    said = (
        "A\npropane 1 % in nitrogen, air\ncylinder\n100 mL/min\ncylinder\n300 mL/min\npushed\n"
        "hose 6x9, tee, quartz tube, condenser\n\ny\n3\ntube furnace\n380 degC\n"
        "C3H8 + 5 O2 -> 3 CO2 + 4 H2O\nplatinium\nplatinum\nhood\n60 m3\nn\n1\n"
    )
    done = run("new", "scenario", "--ask", said=said)
    assert done.exit_code == 0, done.output
    found = load(tmp_path / "scenario.yaml")
    assert found.flows["air feed"].into == "air hose"
    assert found.item("tee").from_ == ["hose 6x9", "air hose"]
    assert found.item("hose 6x9").from_ == found.item("air hose").from_ == []
    assert found.item("quartz tube").material == "fused quartz"
    assert found.item("condenser").coolant_temperature == pytest.approx(288.15)
    assert found.catalysts["platinum catalyst"].in_ == "quartz tube"


def test_questions_left_unanswered_write_nothing(run: Run, tmp_path: Path) -> None:
    assert run("new", "scenario", "--ask", said="A try\n").exit_code not in (0, 1)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("hottest", [None, 250.0, 1300.0])
@pytest.mark.parametrize("to", ["hood", "room"])
@pytest.mark.parametrize(
    "gases", [("argon",), ("hydrogen", "air"), ("methane", "oxygen", "forming gas 5 %")]
)
def test_every_answer_leads_to_a_scenario_that_loads(
    gases: tuple[str, ...], to: str, hottest: float | None
) -> None:
    parts = (Part("hose", "line"), Part("1 L round flask", "vessel", "water"))
    feeds = tuple(Feed(gas) for gas in gases)
    answers = Answers("A: 'try' # 1", feeds, parts, to, hottest=hottest, heater="spirit lamp")
    found = loads(written(answers, Reference()))
    assert set(found.reagents) == set(gases)
    assert bool(found.heat) == (hottest is not None)
    assert found.train[-1].to == to


@pytest.mark.parametrize("text", ["", " , ", "unobtainium", "ethanol", "forming gas", "lime water"])
def test_what_is_no_gas_is_asked_again(text: str) -> None:
    with pytest.raises(ValueError):
        gas_names(text, Reference())


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("My Check", "my_check"),
        ("2nd", "n2nd"),
        ("class", "class_"),
        ("über", "ber"),
        ("../out", "out"),
        ("a.b", "a_b"),
        ("", "n"),
    ],
)
@pytest.mark.parametrize("what", ["check", "ruleset", "scenario"])
def test_a_name_that_will_not_do(run: Run, tmp_path: Path, what: str, name: str, near: str) -> None:
    done = run("new", what, "--", name)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert repr(near) in done.stderr and done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["json", "numpy", "review", "flammability", "tests"])
def test_a_check_cannot_take_a_name_that_is_taken(run: Run, tmp_path: Path, name: str) -> None:
    done = run("new", "check", name)
    assert done.exit_code == 2 and f"{name}_check" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("what", ["check", "ruleset", "scenario"])
def test_nothing_is_overwritten(run: Run, tmp_path: Path, what: str) -> None:
    assert run("new", what, "mine").exit_code == 0
    files = [p for p in tmp_path.rglob("*") if p.is_file()]
    for file in files:
        file.write_text("mine")
    again = run("new", what, "mine")
    assert again.exit_code == 2 and "is there already" in again.stderr
    assert sorted(p for p in tmp_path.rglob("*") if p.is_file()) == sorted(files)
    assert {file.read_text() for file in files} == {"mine"}


def test_a_folder_that_cannot_be_written_is_a_wrong_input(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for what in ("check", "ruleset", "scenario"):
        done = run("new", what, "mine", "--into", tmp_path / "file" / "under")
        assert done.exit_code == 2, what
        assert "benchgate:" in done.stderr or "Error" in done.stderr
