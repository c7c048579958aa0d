"""The plan as stated can be asked for by the name that every output gives it."""

from pathlib import Path

import pytest

from review import load, loads
from tests.support import shared_engine

DEMO = load("scenarios/nitrogen_dried.yaml")
KIND = "train.contact_time"


def test_plan_is_the_stated_settings():
    engine = shared_engine()
    plan = engine.explain(DEMO, KIND, run="plan", step="plan")
    stated = engine.explain(DEMO, KIND, run="plan", step="stated settings")
    assert (plan.step, plan.index) == (stated.step, stated.index) == ("stated settings", 0)


def test_a_step_of_that_name_comes_first():
    text = Path("scenarios/nitrogen_dried.yaml").read_text("utf-8")
    named = loads(text.replace("step: dry", "step: plan"))
    assert shared_engine().explain(named, KIND, run="plan", step="plan").step == "plan"


def test_another_name_is_unknown():
    with pytest.raises(LookupError, match="no step 'plann'"):
        shared_engine().explain(DEMO, KIND, step="plann")
