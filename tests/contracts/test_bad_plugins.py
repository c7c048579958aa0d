"""A plugin that fails costs its own findings, never another's, and nothing becomes acceptable."""

import numpy as np
import pytest

from review import PluginError
from review.engine.reviewing import Engine
from review.judge.verdict import verdict

#: What each bad plugin does: changes of the good one's text, and more text behind it.
BAD = {
    "nan_called_ok": {"changes": [("measure(setup, 0.0)", "measure(setup, np.nan, 0)")]},
    "nan_called_estimated": {"changes": [("measure(setup, 0.0)", "measure(setup, np.nan, 1)")]},
    "nan_called_outside": {"changes": [("measure(setup, 0.0)", "measure(setup, np.nan, 2)")]},
    "number_called_missing": {"changes": [("measure(setup, 0.0)", "measure(setup, 0.0, 3)")]},
    "status_unheard_of": {"changes": [("measure(setup, 0.0)", "measure(setup, 0.0, 9)")]},
    "raises_in_compute": {"changes": [("yield measure(setup, 0.0)", "raise OSError('odd')")]},
    "raises_after_a_measure": {
        "changes": [
            ("yield measure(setup, 0.0)", "yield measure(setup, 0.0)\n    raise OSError('odd')")
        ]
    },
    "returns_nothing": {"changes": [("yield measure(setup, 0.0)", "return None")]},
    "yields_a_number": {"changes": [("yield measure(setup, 0.0)", "yield 0.0")]},
    "yields_no_measure": {"changes": [("yield measure(setup, 0.0)", "yield from ()")]},
    "wrong_shape": {
        "changes": [("measure(setup, 0.0)", "measure(setup, 0.0, shape=(1, setup.shape[1]))")]
    },
    "too_many_runs": {
        "changes": [
            ("measure(setup, 0.0)", "measure(setup, 0.0, shape=(setup.shape[0], 1000))")
        ]
    },
    "flat": {"changes": [("measure(setup, 0.0)", "measure(setup, 0.0, shape=setup.trials)")]},
    "undeclared_kind": {
        "changes": [("measure(setup, 0.0)", "measure(setup, 0.0, of_kind=kind('site_x.other'))")]
    },
    "another_checks_kind": {
        "changes": [
            ("measure(setup, 0.0)", "measure(setup, 0.0, of_kind=kind('pressure.suckback_reach'))")
        ]
    },
    "same_place_twice": {
        "changes": [
            (
                "yield measure(setup, 0.0)",
                "yield measure(setup, 5.0)\n    yield measure(setup, 0.0)",
            )
        ]
    },
    "raises_in_measures": {
        "changes": [("    return [Comp", "    raise OSError('odd')\n    return [Comp")]
    },
    "measures_is_none": {
        "changes": [("return [Computation(kinds=(OWN,), compute=compute)]", "return None")]
    },
    "measures_of_words": {
        "changes": [("return [Computation(kinds=(OWN,), compute=compute)]", "return ['x']")]
    },
    "raises_in_check": {"changes": [("    return Check(id", "    raise OSError; dict(id")]},
    "blank_check": {"changes": [('covers=("x",)', "covers=()")]},
    "raises_in_upsets": {"changes": [("    return []", "    raise OSError('odd')")]},
    "upsets_is_none": {"changes": [("    return []", "    return None")]},
    "upset_after_the_last_step": {
        "changes": [
            (
                "    return []",
                "    return [Overlay('u', 'u', 'upset', {'flows.acid.rate': 0.0}, 9)]",
            )
        ]
    },
    "upset_that_is_a_sample": {
        "changes": [
            ("    return []", "    return [Overlay('u', 'u', 'sample', {'flows.acid.rate': 0.0})]")
        ]
    },
    "exits_in_compute": {"changes": [("yield measure(setup, 0.0)", "raise SystemExit(0)")]},
    "raises_in_sections": {
        "more": "\n@hookimpl\ndef report_sections(review):\n    raise OSError('odd')\n"
    },
    "upset_of_an_unknown_number": {
        "changes": [
            (
                "    return []",
                "    return [Overlay('u', 'u', 'upset', {'flows.nothing.rate': 0.0}, 1)]",
            )
        ]
    },
    "raises_in_criteria": {
        "changes": [("    return [Path(", "    raise OSError\n    return [Path(")]
    },
    "syntax_error": {"more": "\ndef broken(:\n"},
    "raises_on_import": {"more": "\nraise OSError('odd')\n"},
    "imports_what_is_not_there": {"more": "\nimport nowhere_to_be_found\n"},
    "exits_on_import": {"more": "\nraise SystemExit(0)\n"},
    "bad_kind": {"changes": [('OWN = kind("site_NAME.number")', 'OWN = kind("Not A Kind")')]},
}
#: Its findings are lost; what it says of them is by the missing value, not by a failure.
SAID_BY_THE_VALUE = {
    "nan_called_ok", "nan_called_estimated", "nan_called_outside", "number_called_missing",
    "status_unheard_of", "yields_no_measure",
}  # fmt: skip
#: Its own measures are sound: what is lost is something else.
SOUND_MEASURES = {
    "raises_in_upsets", "upsets_is_none", "upset_of_an_unknown_number", "raises_in_sections",
    "upset_after_the_last_step", "upset_that_is_a_sample",
}  # fmt: skip


#: What it does shows only where failures are played; the others are reviewed without them.
WITH_UPSETS = {
    "raises_in_upsets", "upsets_is_none", "upset_after_the_last_step", "upset_that_is_a_sample",
    "upset_of_an_unknown_number", "too_many_runs", "raises_in_compute", "syntax_error",
}  # fmt: skip


@pytest.fixture(scope="module")
def quiet(engine, scenario):
    """The review without any failure played."""
    return engine.review(scenario, upsets=False)


def of_built_in(review):
    return [
        repr(f)
        for f in review.findings
        if not f.criterion.startswith("site_") and f.criterion != "check.failed"
    ]


def test_the_good_plugin_is_judged(plugin, scenario, plain):
    """The bad ones below differ from it by one thing each."""
    review = Engine(plugin_files=[plugin("good")]).review(scenario)
    own = [f for f in review.findings if f.criterion == "site_good.number"]
    assert {f.case for f in own} == {"plan", "step", "upset"}
    assert {f.grade for f in own} == {"acceptable"}
    assert not review.failures
    assert of_built_in(review) == of_built_in(plain)


@pytest.mark.parametrize("name", BAD)
def test_a_bad_plugin_finds_nothing_acceptable(name, plugin, scenario, plain, quiet):
    bad, upsets = BAD[name], name in WITH_UPSETS
    file = plugin(name, *bad.get("changes", ()), more=bad.get("more", ""))
    review = Engine(plugin_files=[file]).review(scenario, upsets=upsets)
    own = [f for f in review.findings if f.criterion == f"site_{name}.number"]
    failed = [
        f for f in review.findings if f.criterion == "check.failed" and name in f.title
    ]
    if name in SAID_BY_THE_VALUE:
        assert own and not failed
    else:
        assert failed and all(name in f.title and f.blocks for f in failed)
        assert [f.check for f in review.failures] == [name] * len(review.failures)
    if name in SOUND_MEASURES:
        assert {f.grade for f in own} == {"acceptable"}
        own = []
    assert {f.grade for f in (*own, *failed)} == {"undetermined"}
    assert all(f.status == "missing" and np.isnan(f.value) for f in (*own, *failed))
    assert all(f.reason for f in (*own, *failed))
    assert review.verdict in ("must not proceed", "cannot be judged")
    for m in review.measures:
        np.testing.assert_array_equal(np.isnan(m.value), m.status == 3, err_msg=m.kind)
        assert np.isin(m.status, (0, 1, 2, 3)).all()
    if name != "another_checks_kind":
        assert all(not m.kind.startswith("site_x") for m in review.measures)
    assert of_built_in(review) == of_built_in(plain if upsets else quiet)


@pytest.mark.parametrize("name", ["raises_in_compute", "syntax_error", "nan_called_ok"])
def test_a_failed_plugin_blocks_where_all_else_is_acceptable(name, plugin, scenario):
    bad = BAD[name]
    file = plugin(name, *bad.get("changes", ()), more=bad.get("more", ""))
    found = Engine(plugin_files=[file]).review(scenario, upsets=False).findings
    good = [f for f in found if f.grade == "acceptable"]
    own = [f for f in found if name in f.title or f.criterion == f"site_{name}.number"]
    assert verdict(good) == "may proceed" and own
    assert verdict([*good, *own]) == "cannot be judged"


def test_a_plugin_that_fails_in_one_chunk_only(plugin, scenario, overlays, monkeypatch):
    """Its findings are undetermined even if other chunks went well."""
    monkeypatch.setattr("review.engine.measuring.CHUNK_RUNS", 1)
    late = plugin("late", ("yield measure(setup, 0.0)", (
        "if any(o.id == 'sample 100' for o in setup.runs.overlays):\n"
        "        raise OSError('odd')\n    yield measure(setup, 0.0)"
    )))  # fmt: skip
    review = Engine(plugin_files=[late]).review(scenario, extra=overlays, upsets=False)
    own = [f for f in review.findings if f.criterion == "site_late.number"]
    assert "undetermined" in {f.grade for f in own}
    assert [f.check for f in review.failures] == ["late"]
    (m,) = [m for m in review.measures if m.kind == "site_late.number"]
    column = [r.id for r in review.trials.runs].index("sample 100")
    assert np.isnan(m.value[:, column]).all() and (m.status[:, column] == 3).all()
    assert not np.isnan(m.value[:, 0]).any()


def test_a_chunk_in_which_nothing_was_measured(plugin, scenario, overlays, monkeypatch):
    """With no other check at all, a chunk without any measure is missing, not a crash."""
    monkeypatch.setattr("review.engine.measuring.CHUNK_RUNS", 1)
    only = plugin("only", ("yield measure(setup, 0.0)", (
        "if setup.runs.overlays[0].id == 'plan':\n        yield measure(setup, 0.0)"
    )))  # fmt: skip
    engine = Engine(plugin_files=[only])
    engine._computations = [pair for pair in engine._computations if pair[0].name == "only"]
    review = engine.review(scenario, extra=overlays, upsets=False)
    (m,) = [m for m in review.measures if m.kind == "site_only.number"]
    lost = np.isnan(m.value).any(axis=0)
    first = int(lost.argmax())  # chunks of a size, of at most 64
    assert 0 < first <= 64 and np.isnan(m.value[:, first:]).all() and not lost[:first].any()


def test_a_file_that_is_not_there_is_a_wrong_input(tmp_path):
    with pytest.raises(PluginError, match="no such file"):
        Engine(plugin_files=[tmp_path / "nowhere.py"])
