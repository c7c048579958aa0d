"""What is not asked for is not run, what is asked for is seen, and nothing is passed over."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import Result

from review import Engine, PluginError, Scenario
from review.engine.discovery import _hash_of
from review.engine.facts import fact_types
from review.judge.conditions import Place as Line
from review.judge.conditions import RulesetError, Vocabulary, compile_condition
from review.reference.data import DataError
from review.reference.finding import built_in_folder

Run = Callable[..., Result]
Write = Callable[..., Path]

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
#: Names under which some tools run what they find in a folder.
BESIDE = (
    "conftest.py", "plugin.py", "benchgate.py", "benchgate_plugin.py", "sitecustomize.py",
    "flammability.py", "yaml.py", "numpy.py", "setup.py", "__init__.py",
)  # fmt: skip


def test_nothing_beside_a_scenario_is_run(tmp_path: Path) -> None:
    """The command itself, in the folder of the scenario: each file there would leave a trace."""
    shutil.copy(HERE / "bulb.yaml", tmp_path)
    trace = tmp_path / "trace"
    code = f"open({str(trace)!r}, 'a').write('run')\n"
    for name in BESIDE:
        (tmp_path / name).write_text(code)
    for folder in ("plugins", "rulesets", ".benchgate", "review"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "__init__.py").write_text(code)
        (tmp_path / folder / "own.yaml").write_text("name: planted\ncontacts: [planted]\n")
    info = tmp_path / "planted-1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: planted\nVersion: 1\n")
    (info / "entry_points.txt").write_text("[benchgate]\nplanted = plugin\n")
    command = Path(sys.executable).with_name("benchgate")
    for arguments in (["check", "bulb.yaml"], ["rules"], ["checks"]):
        done = subprocess.run(
            [command, *arguments], cwd=tmp_path, capture_output=True, text=True, check=False
        )
        assert done.returncode in (0, 1) and done.stdout, done.stderr
        assert "planted" not in done.stdout
    assert not trace.exists()


def test_a_plugin_that_is_asked_for_does_leave_its_trace(tmp_path: Path, plugin: Write) -> None:
    """So that the test above could fail."""
    trace = tmp_path / "trace"
    Engine(plugin_files=[plugin("own", f"open({str(trace)!r}, 'a').write('run')")])
    assert trace.read_text() == "run"


@pytest.mark.parametrize(
    "text",
    [
        'name: !!python/object/apply:os.system ["touch trace"]\n',
        "name: !!python/object/new:subprocess.Popen [[touch, trace]]\n",
        'criteria: !!python/object/apply:os.system ["touch trace"]\n',
        'contacts: [!!python/object/apply:os.system ["touch trace"]]\n',
        "criteria: [{id: a.b, title: x, action: x, basis: {document: x, how: x},"
        " require: \"__import__('os').system('touch trace') == 0\"}]\n",
        "criteria: [{id: a.b, title: x, action: x, basis: {document: x, how: x},"
        " require: \"open('trace').size() == 0\"}]\n",
        "plugins: [own.py]\n",
        "include: own.yaml\n",
    ],
)
def test_a_ruleset_cannot_run_code(run: Run, tmp_path: Path, text: str) -> None:
    (tmp_path / "own.py").write_text("open('trace', 'a').write('run')\n")
    file = tmp_path / "site.yaml"
    file.write_text(text)
    done = run("rules", "--rules", file)
    assert done.exit_code == 2
    assert "site.yaml:1" in done.stderr
    assert not (tmp_path / "trace").exists()


def test_a_condition_that_would_turn_millions_of_times_is_refused_at_once(
    run: Run, tmp_path: Path
) -> None:
    """Four loops over sixty items: 60**4, about 13 million turns."""
    sixty = f"[{','.join(str(n) for n in range(60))}]"
    text = "true"
    for name in "abcd":
        text = f"{sixty}.all({name}, {text})"
    vocabulary = Vocabulary(fact_types(), [])
    with pytest.raises(RulesetError, match="4 loops"):
        compile_condition(text, vocabulary, Line("site.yaml", 4))
    file = tmp_path / "site.yaml"
    file.write_text(
        "name: site\ncriteria:\n  - id: site.loops\n    require: >-\n      " + text + "\n"
        "    title: x\n    action: x\n    basis: {document: x, how: x}\n"
    )
    done = run("rules", "--rules", file)
    assert done.exit_code == 2 and "site.yaml:4" in done.stderr


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("@hookimpl\ndef mesures():\n    return []", "no hook 'mesures'; did you mean 'measures'?"),
        ("@hookimpl\ndef upset(scenario):\n    return []", "did you mean 'upsets'?"),
        ("@hookimpl\ndef run():\n    return []", "the hooks are check, measures"),
        ("def upsets(scenario):\n    return []", "upsets is not marked with hookimpl"),
    ],
)
def test_a_hook_that_would_never_be_called_is_an_error(
    plugin: Write, run: Run, more: str, said: str
) -> None:
    file = plugin("own", more)
    done = run("checks", "--plugin", file)
    assert done.exit_code == 2
    assert "'own'" in done.stderr and said in done.stderr


def test_a_file_without_hooks_is_no_plugin(tmp_path: Path) -> None:
    file = tmp_path / "empty.py"
    file.write_text("x = 1\n")
    with pytest.raises(PluginError, match="'empty'.*hookimpl"):
        Engine(plugin_files=[file])


# Whoever declares the same thing twice is told both places.


def rename(file: Path, old: str, new: str) -> Path:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), "utf-8")
    return file


def test_kinds(plugin: Write) -> None:
    first, second = plugin("first"), plugin("second")
    rename(second, 'Kind(id="second.number"', 'Kind(id="first.number"')
    with pytest.raises(PluginError, match="'first.number'.*'first'.*'second'"):
        Engine(plugin_files=[first, second])


def test_checks(plugin: Write) -> None:
    first, second = plugin("first"), plugin("second")
    rename(second, 'Check(id="second"', 'Check(id="first"')
    with pytest.raises(PluginError, match="'first'.*'first'.*'second'"):
        Engine(plugin_files=[first, second])


def test_criteria(plugin: Write) -> None:
    first, second = plugin("first"), plugin("second")
    rename(second.with_suffix(".yaml"), "id: second.number", "id: first.number")
    with pytest.raises(RulesetError) as caught:
        Engine(plugin_files=[first, second])
    said = str(caught.value)
    assert "'first.number'" in said and "first.yaml:4" in said and "second.yaml:4" in said


ITEM_KIND = """
from review import ItemKind
@hookimpl
def item_kinds():
    return [ItemKind("bulb", "Bulb")]
"""


def test_item_kinds(plugin: Write) -> None:
    files = [plugin(name, ITEM_KIND) for name in ("first", "second")]
    with pytest.raises(PluginError, match="'bulb'.*'first'.*'second'"):
        Engine(plugin_files=files)
    built_in = plugin("third", ITEM_KIND.replace('"bulb"', '"line"'))
    with pytest.raises(PluginError, match="'line'.*'standard_items'.*'third'"):
        Engine(plugin_files=[built_in])


DATA = """
@hookimpl
def KIND():
    return [Path(__file__).parent / "NAME_data"]
"""


def with_data(plugin: Write, name: str, kind: str, source: str, target: str) -> Path:
    """A plugin with one copied data file under a file name of its own."""
    file = plugin(name, DATA.replace("KIND", kind))
    folder = file.parent / f"{name}_data" / kind
    folder.mkdir(parents=True)
    shutil.copy(built_in_folder() / kind / source, folder / target)
    return file


@pytest.mark.parametrize(
    ("kind", "source"), [("substances", "argon.yaml"), ("materials", "ptfe.yaml")]
)
def test_data_files_of_two_plugins(plugin: Write, kind: str, source: str) -> None:
    files = [with_data(plugin, name, kind, source, source) for name in ("first", "second")]
    with pytest.raises(PluginError, match=f"{kind}/{source[:-5]}.*first_data.*second_data"):
        Engine(plugin_files=files)


@pytest.mark.parametrize(
    ("kind", "source"), [("substances", "nitrogen.yaml"), ("materials", "ptfe.yaml")]
)
def test_names_of_two_data_files(
    plugin: Write, run: Run, bulb: Scenario, kind: str, source: str
) -> None:
    file = with_data(plugin, "own", kind, source, "other.yaml")
    with pytest.raises(DataError) as caught:
        Engine(plugin_files=[file]).review(bulb)
    said = str(caught.value)
    assert "other.yaml" in said and str(built_in_folder() / kind / source) in said
    done = run("check", HERE / "bulb.yaml", "--plugin", file)
    assert done.exit_code == 2 and "other.yaml" in done.stderr


def test_a_data_file_of_the_same_name_overrides_the_built_in_one(
    plugin: Write, bulb: Scenario
) -> None:
    file = with_data(plugin, "own", "substances", "nitrogen.yaml", "nitrogen.yaml")
    rename(file.parent / "own_data" / "substances" / "nitrogen.yaml", "cas: 7727-37-9", "cas: none")
    assert Engine(plugin_files=[file]).reference.substance("nitrogen").cas == "none"
    assert Engine().reference.substance("nitrogen").cas == "7727-37-9"


def test_the_hash_of_an_installed_plugin_moves_with_every_file_of_it(tmp_path: Path) -> None:
    """A table beside the code decides as much as the code."""
    package = tmp_path / "ours_check"
    package.mkdir()
    (package / "__init__.py").write_text("")
    module = ModuleType("ours_check")
    module.__file__ = str(package / "__init__.py")
    point = EntryPoint("ours", "ours_check", "benchgate")

    def hashed() -> str:
        return _hash_of(point, module)

    seen = {hashed()}
    for name in ("table.csv", "rules.yaml", "more/part.py", "fast.so"):
        path = package / name
        path.parent.mkdir(exist_ok=True)
        path.write_text("1")
        seen.add(hashed())
        path.write_text("2")
        seen.add(hashed())
    assert len(seen) == 9
    (package / "__pycache__").mkdir()
    (package / "__pycache__" / "x.pyc").write_text("compiled")
    assert hashed() in seen
