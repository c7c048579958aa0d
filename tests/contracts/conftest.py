"""One invented scenario in very many runs, and helpers to look at what came out.

The expected behaviour is the project's own design, not a published value; numbers worked by hand
stand beside their checks.
"""

from pathlib import Path

import numpy as np
import pytest
import yaml
from review.plugins.standard_items.kinds import KINDS

from review import Overlay, load, loads
from review.interface.items import ItemKind
from review.interface.measure import Measure
from review.interface.result import Trials
from review.judge.judging import judge
from review.walk.resolve import resolve
from review.walk.runs import PLAN, Runs
from review.walk.steps import Walk

FILE = Path(__file__).with_name("acid_and_fuel.yaml")

UPSET = Overlay(
    id="nitrogen lost",
    title="nitrogen does not come from the heat step on",
    case="upset",
    changes={"flows.nitrogen.delivered": 0.0},
    from_step=2,
)


@pytest.fixture(scope="session")
def text():
    return FILE.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def scenario():
    return load(FILE)


@pytest.fixture(scope="session")
def upset():
    return UPSET


@pytest.fixture(scope="session")
def samples():
    """128 drawn samples of rates, temperatures, absorber and geometry; half without ether."""
    draw = np.random.default_rng(20240611)
    out = []
    for n in range(128):
        hot = float(draw.uniform(320.0, 850.0))
        ambient = float(draw.uniform(283.0, 303.0))
        changes = {
            "flows.nitrogen.rate": 1e-5 * float(draw.uniform(0.1, 2.0)),
            "flows.fuel.rate": 1e-4 * float(draw.uniform(0.1, 2.0)),
            "flows.acid.rate": 6e-5 * float(draw.uniform(0.1, 2.0)),
            "heat.furnace.set_temperature": hot,
            "heat.furnace.hottest": hot + float(draw.uniform(0.0, 60.0)),
            "ambient.temperature": ambient,
            "train.absorber.bath_temperature": ambient + float(draw.uniform(0.0, 15.0)),
            "train.absorber.absorbs.hydrogen chloride.efficiency": float(draw.uniform(0.5, 1.0)),
            "procedure.purge.duration": float(draw.uniform(10.0, 900.0)),
            "train.wide way.share.tube": float(draw.uniform(0.1, 0.9)),
        }
        if n % 2:
            changes["reagents.fuel gas.composition.dimethyl ether"] = float(draw.uniform(0.0, 0.1))
        if n % 16 == 3:
            changes["flows.fuel.rate"] = 0.0
        out.append(Overlay(id=f"sample {n}", title=f"sample {n}", case="sample", changes=changes))
    return tuple(out)


@pytest.fixture(scope="session")
def window():
    """12 x 12 points of fuel rate (0 included) over furnace temperature (cold included)."""
    return tuple(
        Overlay(
            id=f"point {i},{j}",
            title=f"fuel {rate:.3g} mol/s at {hot:.0f} K",
            case="window",
            changes={"flows.fuel.rate": rate, "heat.furnace.set_temperature": hot},
        )
        for i, rate in enumerate(np.linspace(0.0, 3e-4, 12).tolist())
        for j, hot in enumerate(np.linspace(293.15, 893.15, 12).tolist())
    )


@pytest.fixture(scope="session")
def overlays(upset, samples, window):
    return (upset, *samples, *window)


@pytest.fixture(scope="session")
def batch(engine, scenario, overlays):
    """Plan, upset, samples and window points reviewed together."""
    return engine.review(scenario, extra=overlays, upsets=False)


@pytest.fixture(scope="session")
def plain(engine, scenario):
    """The review as a user gets it: plan and the built-in upsets."""
    return engine.review(scenario)


@pytest.fixture(scope="session")
def walked(engine):
    """Walk a scenario under overlays, plan first; returns the walk and index by item id."""

    def walk(scenario, *overlays):
        kinds: dict[str, ItemKind] = {kind.id: kind for kind in KINDS}
        resolved = resolve(scenario, engine.reference, kinds)
        done = Walk(resolved, Runs(resolved.base, [PLAN, *overlays]))
        return done, {name: i for i, name in enumerate(resolved.graph.ids)}

    return walk


@pytest.fixture(scope="session")
def keyed():
    """Measures by (kind, at, of); two with one key would hide each other."""

    def by_key(measures):
        out = {(m.kind, m.at, m.of): m for m in measures}
        assert len(out) == len(measures)
        return out

    return by_key


@pytest.fixture(scope="session")
def picked():
    """The same measures with only some runs."""

    def pick(measures, columns):
        columns = list(columns)
        return [
            Measure(
                m.kind, m.at, m.of, m.unit, m.value[:, columns], m.status[:, columns], m.method,
                m.note,
            )
            for m in measures
        ]  # fmt: skip

    return pick


@pytest.fixture(scope="session")
def graded(picked):
    """Findings of some runs of a review, judged from its measures."""

    def grade(engine, review, columns, failures=None):
        columns = list(columns)
        trials = Trials(review.trials.steps, tuple(review.trials.runs[c] for c in columns))
        measures = picked(review.measures, columns)
        judged = judge(measures, review.facts, engine.ruleset, engine.kinds, trials, failures)
        return judged.findings

    return grade


@pytest.fixture(scope="session")
def gist():
    """What a finding says without its number's last digits."""

    def said(finding):
        return (
            finding.criterion, finding.at, finding.of, finding.case, finding.trial, finding.step,
            finding.grade, finding.status, finding.limit,
        )  # fmt: skip

    return said


@pytest.fixture(scope="session")
def edited(text):
    """The scenario with its text data changed by a function."""

    def edit(change, name="<edited>"):
        data = yaml.load(text, Loader=yaml.BaseLoader)
        change(data)
        return loads(yaml.safe_dump(data, sort_keys=False, allow_unicode=True), name)

    return edit


#: A well-behaved plugin; tests replace one part at a time.
PLUGIN = '''
from pathlib import Path
import numpy as np
from review import Check, Computation, Kind, Measure, Overlay, hookimpl

def kind(name):
    return Kind(id=name, title="Invented", worse="higher", unit="1", display="", method="m",
                source="invented", validity="everywhere")

OWN = kind("site_NAME.number")

def measure(setup, value, status=0, of_kind=OWN, shape=None):
    shape = setup.shape if shape is None else shape
    return Measure(of_kind.id, "tube", "", "1", np.full(shape, value),
                   np.full(shape, status, dtype=np.uint8), "m")

def compute(setup):
    yield measure(setup, 0.0)

@hookimpl
def check():
    return Check(id="site_NAME", title="Site", version="1", covers=("x",), not_covered=("y",),
                 sources=("z",))

@hookimpl
def measures():
    return [Computation(kinds=(OWN,), compute=compute)]

@hookimpl
def upsets(scenario):
    return []

@hookimpl
def criteria():
    return [Path(__file__).with_suffix(".yaml")]
'''
CRITERION = """
name: NAME
criteria:
  - id: site_NAME.number
    title: Invented
    kind: site_NAME.number
    bands: {acceptable: 1.0, tolerable: 2.0}
    action: None.
    basis: {document: invented, clause: "", how: invented}
"""


@pytest.fixture
def plugin(tmp_path):
    """Write a plugin file of a name: the good one, its text changed, with more text behind."""

    def write(name, *changes, more="", after=""):
        body = PLUGIN
        for old, new in changes:
            assert old in body, old
            body = body.replace(old, new)
        file = tmp_path / f"{name}.py"
        file.write_text((body + more).replace("NAME", name), encoding="utf-8")
        rules = (CRITERION + after).replace("NAME", name)
        file.with_suffix(".yaml").write_text(rules, encoding="utf-8")
        return file

    return write
