"""What accuracies do to a verdict: near a limit they refuse, far from it they change nothing."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pytest

from review import Engine, Review, load, loads
from review.explore import accuracy
from review.explore.accuracy import Spread, hypercube, samples, spreads, weighed
from tests.support import shared_engine

FORMING = (files("review.scenarios") / "copper_oxide_forming_gas.yaml").read_text("utf-8")
#: The purge is long enough from about 170 mL/min of argon on; this is a tenth more.
NEAR = FORMING.replace("rate: 500 mL/min", "rate: 189 mL/min").replace(
    "accuracy: 5 %", "accuracy: 15 %", 1
)
ALLOWED = ("may proceed", "may proceed with conditions")


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


@pytest.fixture(scope="module")
def near(engine: Engine) -> Review:
    return engine.review(loads(NEAR))


def test_near_a_limit_the_accuracies_refuse_and_say_which(engine: Engine, near: Review) -> None:
    assert near.verdict in ALLOWED
    closer = weighed(engine, loads(NEAR), near)
    assert closer.verdict == "must not proceed"
    against = [f for f in closer.findings if f.grade == "unacceptable"]
    assert against and all(f.case == "sample" for f in against)
    assert {c.id for c in closer.causes if c.grade == "unacceptable"}
    (section,) = [s for s in closer.sections if s.title == "Accuracy"]
    assert any('flow "argon": 15 % (as stated)' in line for line in section.lines)


def test_far_from_every_limit_nothing_changes(engine: Engine) -> None:
    scenario = loads(FORMING)
    review = engine.review(scenario)
    closer = weighed(engine, scenario, review)
    assert closer.verdict == review.verdict
    assert closer.findings[: len(review.findings)] == review.findings
    assert not any(f.grade in ("unacceptable", "acceptable") for f in
                   closer.findings[len(review.findings) :])  # fmt: skip
    assert "hold within" in closer.sections[-1].lines[0]


def test_what_may_not_proceed_is_not_looked_at_again(engine: Engine) -> None:
    scenario = loads(NEAR.replace("rate: 189 mL/min", "rate: 150 mL/min"))
    review = engine.review(scenario)
    assert review.verdict == "must not proceed"
    assert weighed(engine, scenario, review) is review


def test_a_worse_accuracy_is_never_better(engine: Engine) -> None:
    """With a third the purge is too short where with a hundredth it is not."""
    text = FORMING.replace("rate: 500 mL/min", "rate: 210 mL/min")
    verdicts = []
    for stated in ("accuracy: 1 %", "accuracy: 30 %"):
        scenario = loads(text.replace("accuracy: 5 %", stated))
        verdicts.append(weighed(engine, scenario, engine.review(scenario)).verdict)
    assert verdicts[1] == "must not proceed"
    assert verdicts[0] in ALLOWED


def test_the_value_judged_is_the_95_percent_one(engine: Engine) -> None:
    """Of 256 even steps between -5 % and +5 % the 244th counts: 1 - 0.05 (2 x 243.5 / 256 - 1)."""
    scenario = loads(FORMING)
    rate = 500e-6 / 60
    one = Spread("flows.argon.rate", rate, 0.05 * rate, "argon")
    findings, _, _ = engine.sampled(scenario, samples([one]))
    (found,) = [f for f in findings if (f.criterion, f.at) == ("readiness.purge", "purge")]
    assert found.case == "sample"
    argon = 500 * (1 - 0.05 * (2 * 243.5 / 256 - 1))
    typed = engine.review(
        loads(FORMING.replace("rate: 500 mL/min", f"rate: {argon:.6f} mL/min")), upsets=False
    )
    (same,) = [f for f in typed.findings
               if (f.criterion, f.at, f.case) == ("readiness.purge", "purge", "step")]  # fmt: skip
    assert found.value == pytest.approx(same.value, rel=1e-6)


def test_the_points_are_a_latin_hypercube() -> None:
    points = hypercube()
    assert points.shape == (256, 48)
    middles = (2 * (np.arange(256) + 0.5) / 256) - 1
    assert all(np.allclose(np.sort(column), middles) for column in points.T)
    together = np.corrcoef(points.T) - np.eye(48)
    assert np.abs(together).max() < 0.25


def test_a_device_without_a_stated_accuracy_gets_its_kind_s() -> None:
    bare = FORMING.replace("    accuracy: 5 %\n", "")
    by_eye = bare.replace("{kind: mass flow controller, calibration_gas: argon}", "{kind: none}")
    for text, share in ((FORMING, 0.05), (bare, accuracy.FLOWS["mass flow controller"]),
                        (by_eye, accuracy.BY_EYE)):  # fmt: skip
        found = {s.path: s for s in spreads(loads(text))}
        argon = found["flows.argon.rate"]
        assert argon.half == pytest.approx(share * argon.value)


def test_every_demo_that_may_proceed_still_may(engine: Engine) -> None:
    for name in ("nitrogen_dried", "water_warmed_in_a_bath"):
        scenario = load(str(files("review.scenarios") / f"{name}.yaml"))
        review = engine.review(scenario)
        assert weighed(engine, scenario, review).verdict == review.verdict == "may proceed"
