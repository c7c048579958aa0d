"""A review says which data files it rests on: all of them, and the names that led to them."""

import shutil
from pathlib import Path

import pytest

from review.engine.reviewing import Engine
from review.reference import finding
from review.reference.finding import Reference, built_in_folder
from review.scenario import load, loads

DEMOS = sorted(Path("scenarios").glob("*.yaml"))


@pytest.mark.parametrize("demo", DEMOS, ids=lambda path: path.stem)
def test_every_file_that_is_read_is_named(demo, monkeypatch):
    read = set()

    def noted(kind, function):
        def reads(path, **more):
            read.add(kind or f"{path.parent.name}/{path.stem}")
            return function(path, **more)

        return reads

    plain = (("read_substance", ""), ("read_material", ""))
    whole = (("read_joints", "joints"), ("read_pairs", "pairs"), ("read_solution", "solutions"))
    for name, kind in (*plain, *whole, ("read_mixture", "")):
        monkeypatch.setattr(finding, name, noted(kind, getattr(finding, name)))
    # All failures of one of them; the others as planned.
    done = Engine().review(load(demo), upsets=demo.stem == "methanol_over_silver")
    named = {each.file for each in done.data if each.file}  # none: no name of that kind
    assert read | {"words"} == named
    # Tables in several files of which any may answer: one hash for each of them.
    tables = len(list((built_in_folder() / "solutions").glob("*.yaml")))
    for each in done.data:
        hashes = each.sha256.split("+") if each.file else []
        expected = tables if each.file == "solutions" else int(bool(each.file))
        assert [len(one) for one in hashes] == [64] * expected


def test_a_second_review_by_the_same_engine_names_its_own_files_again():
    engine = Engine()
    first = engine.review(load("scenarios/nitrogen_dried.yaml")).data
    engine.review(load("scenarios/methanol_over_silver.yaml"))
    assert engine.review(load("scenarios/nitrogen_dried.yaml")).data == first


def test_a_name_that_nobody_knows_is_noted_too():
    engine = Engine()
    text = Path("scenarios/nitrogen_dried.yaml").read_text("utf-8")
    text = text.replace("{nitrogen: 100 %}", "{nitragen: 100 %}")
    assert "nitragen" in text
    with engine.reference.noting() as names, pytest.raises(Exception, match="nitragen"):
        engine.review(loads(text))
    assert ("substances", "nitragen") in names
    found = engine.reference.looked_up("substances", "nitragen")
    assert (found.file, found.sha256) == ("", "")


def test_a_file_that_overrides_another_changes_the_hash(tmp_path):
    plain = Reference()
    (tmp_path / "substances").mkdir()
    original = built_in_folder() / "substances" / "argon.yaml"
    copy = tmp_path / "substances" / "argon.yaml"
    shutil.copy(original, copy)
    copy.write_text(copy.read_text("utf-8") + "\n# another hand\n", "utf-8")
    site = Reference([built_in_folder(), tmp_path])
    before, after = (each.looked_up("substances", "argon") for each in (plain, site))
    assert before.file == after.file == "substances/argon"
    assert before.sha256 != after.sha256
    assert plain.looked_up("joints", "rubber stopper").sha256
