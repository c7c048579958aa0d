"""Results come in a fixed order; needs come first, and a need that is lost is not passed over."""

import random
import re
from importlib.metadata import entry_points

import numpy as np
import pytest

from review import PluginError
from review.engine.reviewing import Engine

UPSET = (
    "    return []",
    "    return [Overlay('u-NAME', 'u', 'upset', {'flows.acid.delivered': 0.0}, 2)]",
)


def shown(review):
    return (
        [repr(f) for f in review.findings],
        [(m.kind, m.at, m.of, m.value.tobytes(), m.status.tobytes()) for m in review.measures],
        review.trials,
        [c.id for c in review.checks],
        review.layers,
        review.not_covered,
        review.not_applicable,
        list(review.kinds),
    )


def test_results_do_not_depend_on_who_loads_first(scenario, plugin, monkeypatch):
    files = [plugin(name, UPSET) for name in ("alpha", "middle", "zeta")]
    first = Engine(plugin_files=files).review(scenario)
    points = list(entry_points(group="benchgate"))
    assert len(points) > 2
    for start in (0, 1):
        draw = random.Random(start)
        draw.shuffle(points)
        draw.shuffle(files)
        monkeypatch.setattr("review.engine.discovery.entry_points", lambda group: points)
        assert points != sorted(points, key=lambda p: p.name)
        assert shown(Engine(plugin_files=files).review(scenario)) == shown(first)


def test_findings_stand_most_serious_first(plain):
    order = ["unacceptable", "undetermined", "tolerable", "acceptable"]
    ranks = [order.index(f.grade) for f in plain.findings]
    assert ranks == sorted(ranks) and len(set(ranks)) == 4


#: Two more kinds: `a_first` needs `m_middle`, which needs the plugin's own `number`. Their names
#: are in the other order than their needs.
CHAIN = """
FIRST, MIDDLE = kind("site_NAME.a_first"), kind("site_NAME.m_middle")
OWN_NEEDS = ()
calls = []

def own(setup):
    calls.append("number")
    yield measure(setup, GIVEN)

def middle(setup):
    calls.append("middle")
    (before,) = setup.measures("site_NAME.number")
    yield Measure(MIDDLE.id, "tube", "", "1", 2 * before.value, before.status, "m")

def first(setup):
    calls.append("first")
    (before,) = setup.measures("site_NAME.m_middle")
    yield Measure(FIRST.id, "tube", "", "1", 10 + before.value, before.status, "m")

@hookimpl
def measures():
    return [
        Computation(kinds=(FIRST,), compute=first, needs=(MIDDLE.id,)),
        Computation(kinds=(MIDDLE,), compute=middle, needs=(OWN.id,)),
        Computation(kinds=(OWN,), compute=own, needs=OWN_NEEDS),
    ]
"""
MORE_CRITERIA = "".join(
    f"""
  - id: site_NAME.{name}
    title: Invented
    kind: site_NAME.{name}
    bands: {{acceptable: 1000.0, tolerable: 2000.0}}
    action: None.
    basis: {{document: invented, clause: "", how: invented}}
"""
    for name in ("a_first", "m_middle")
)


def chained(plugin, name, given, *changes):
    more = CHAIN.replace("GIVEN", given)
    for old, new in changes:
        assert old in more
        more = more.replace(old, new)
    return plugin(name, more=more, after=MORE_CRITERIA)


def own_findings(review, name):
    out = {}
    for f in review.findings:
        if f.criterion.startswith(f"site_{name}."):
            out.setdefault(f.criterion.split(".")[1], set()).add(f.grade)
    return out


def test_needs_come_first_whatever_the_names(plugin, scenario):
    """number 0.5, middle 2 * 0.5 = 1, first 10 + 1 = 11."""
    engine = Engine(plugin_files=[chained(plugin, "chain", "0.5")])
    review = engine.review(scenario)
    values = {m.kind: m.value for m in review.measures if m.kind.startswith("site_chain")}
    assert {k.split(".")[1]: float(v[0, 0]) for k, v in values.items()} == {
        "number": 0.5, "m_middle": 1.0, "a_first": 11.0,
    }  # fmt: skip
    (module,) = [p.module for p in engine._plugins if p.name == "chain"]
    assert module.calls == ["number", "middle", "first"]
    assert not review.failures
    assert own_findings(review, "chain") == {
        kind: {"acceptable"} for kind in ("number", "m_middle", "a_first")
    }


def test_a_circle_of_needs_is_an_error_that_names_the_kinds(plugin):
    file = chained(plugin, "circle", "0.5", ("OWN_NEEDS = ()", "OWN_NEEDS = (FIRST.id,)"))
    with pytest.raises(PluginError) as error:
        Engine(plugin_files=[file])
    for kind in ("site_circle.number", "site_circle.a_first", "site_circle.m_middle"):
        assert kind in str(error.value)
    assert not re.search("flammability|pressure", str(error.value))


@pytest.mark.parametrize("part", ["number", "m_middle"])
def test_a_need_that_fails_takes_what_needs_it_along(plugin, scenario, part):
    old = {"number": 'calls.append("number")', "m_middle": 'calls.append("middle")'}[part]
    file = chained(plugin, "fails", "0.5", (old, "raise OSError('odd')"))
    review = Engine(plugin_files=[file]).review(scenario)
    lost = {"a_first": {"undetermined"}, "m_middle": {"undetermined"}}
    lost["number"] = {"undetermined"} if part == "number" else {"acceptable"}
    assert own_findings(review, "fails") == lost
    reasons = [f.reason for f in review.findings if f.criterion == "site_fails.a_first"]
    assert reasons and all("site_fails.m_middle" in r for r in reasons)


def test_a_missing_number_that_is_needed_stays_missing(plugin, scenario):
    review = Engine(plugin_files=[chained(plugin, "nan", "np.nan")]).review(scenario)
    assert own_findings(review, "nan") == {
        kind: {"undetermined"} for kind in ("number", "m_middle", "a_first")
    }
    for m in review.measures:
        if m.kind.startswith("site_nan"):
            assert np.isnan(m.value).all() and (m.status == 3).all()


def test_a_need_that_nobody_computes_is_undetermined(plugin, scenario):
    """The computation would go on and find nothing wrong: it is not even asked."""
    file = plugin("lacks", ("compute=compute", "compute=compute, needs=('other.kind',)"))
    review = Engine(plugin_files=[file]).review(scenario)
    assert own_findings(review, "lacks") == {"number": {"undetermined"}}
    (failure,) = review.failures
    assert failure.check == "lacks" and "other.kind" in failure.reason


def test_a_built_in_need_is_met(plugin, scenario, plain):
    """A site check reads a built-in measure that it needs, whichever name sorts first."""
    change = (
        "yield measure(setup, 0.0)",
        "yield measure(setup, float(len(setup.measures('train.pressure'))))",
    )
    needs = ("compute=compute", "compute=compute, needs=('train.pressure',)")
    review = Engine(plugin_files=[plugin("reads", change, needs)]).review(scenario)
    (m,) = [m for m in review.measures if m.kind == "site_reads.number"]
    assert (m.value == len([x for x in plain.measures if x.kind == "train.pressure"])).all()
    assert (m.value == len(scenario.train)).all()
