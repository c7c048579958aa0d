"""What became worse, better, new and gone between two stores, and what can be the cause.

Rules and measures are invented; they are judged by the real judge.
"""

from __future__ import annotations

import json
import math
from contextlib import ExitStack
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from review.audit.causes import CODE, SCENARIO, Causes, because
from review.audit.changes import draw_comparison
from review.audit.compare import (
    CHANGES,
    UNREVIEWED,
    Compared,
    check_against,
    compare,
    earlier,
)
from review.audit.database import StoreError
from review.audit.select import choose, selecting
from review.audit.store import Row, opened, reading
from review.interface.measure import MISSING, OK, Measure
from review.interface.result import Run, Trials
from review.judge.conditions import Vocabulary
from review.judge.effective import criterion_hash, ruleset_to_json
from review.judge.judging import judge
from review.judge.layers import load_layer
from review.judge.merging import merge
from review.judge.packed import pack
from review.judge.verdict import verdict
from review.render.page import Page

PLAN = Trials((), (Run("plan", "The plan", "plan"),))


class World:
    """Rulesets by name, and what they say of invented measures."""

    def __init__(self, invented: Any) -> None:
        self.invented, self.kinds = invented, invented.kinds
        self.rulesets: dict[str, Any] = {}

    def rules(self, name: str, limit: float = 7.0, **bands: float) -> None:
        """A ruleset: for each of share, reserve and rating the edge of what is acceptable."""
        criteria = [
            {
                "id": f"rule.{kind}",
                "title": f"The {kind}",
                "kind": f"demo.{kind}",
                "cases": ["plan"],
                "bands": {"acceptable": edge, "tolerable": edge},
                "action": "Lower it.",
                "basis": {"document": "invented", "how": "read"},
            }
            for kind, edge in bands.items()
        ]
        limits = {"demo.figure": {"value": limit, "unit": "1", "range": [0, 99],
                                  "source": "invented", "how": "read",
                                  "safer": "lower"}}  # fmt: skip
        text = json.dumps({"criteria": criteria, "limits": limits})
        layer = load_layer(text, "invented", "built-in")
        self.rulesets[name] = merge([layer], Vocabulary({}, self.kinds), self.kinds)

    def row(
        self, path: str, rules: str, told: dict[str, Any] | None = None, **values: float
    ) -> Row:
        """A set-up with these values, judged by these rules; `told` replaces parts of its row."""
        measures = []
        for kind, value in values.items():
            status = np.full((1, 1), MISSING if math.isnan(value) else OK, dtype=np.uint8)
            id, filled = f"demo.{kind}", np.full((1, 1), value)
            measures.append(Measure(id, "tube", "", self.kinds[id].unit, filled, status, "m"))
        found = judge(measures, {}, self.rulesets[rules], self.kinds, PLAN)
        findings = [
            self.invented.finding(f.criterion, f.grade, _kept(f.value), title=f.title, at=f.at,
                                  kind=f.kind, blocks=int(f.blocks))
            for f in found.findings
        ]  # fmt: skip
        fields = {
            "rules": rules,
            "verdict": verdict(found.findings),
            "facts": "{}",
            "measures": pack(measures, PLAN, self.kinds),
        }
        return self.invented.row(path, findings, **(fields | (told or {})))

    def compare(
        self, old: list[Row], new: list[Row], rules: str = "now", select: str = ""
    ) -> tuple[Compared, dict[str, Any], str]:
        """What the comparison says: counts, each change with its moves and causes, the page."""
        texts = {
            name: {
                "ruleset": ruleset_to_json(ruleset),
                "criteria": {c.id: criterion_hash(c, self.kinds[c.kind]) for c in ruleset.criteria},
            }
            for name, ruleset in self.rulesets.items()
        }
        condition = selecting(select, self.kinds) if select else None
        with ExitStack() as stack:
            stores = [
                stack.enter_context(
                    reading(self.invented.write(*rows, name=f"{name}.sqlite", rules=texts))
                )
                for name, rows in (("old", old), ("new", new))
            ]
            for store in stores:
                choose(store, condition, self.kinds)
            causes = Causes(*stores, self.rulesets[rules], self.kinds, rules)
            told = compare(*stores, causes, "old.sqlite", lambda path: True)
            store = stores[1]
            changes = {
                path: {"change": change, "then": then, "now": now, "moved": {}, "causes": set()}
                for path, change, then, now in store.execute(
                    "SELECT path, change, verdict_then, verdict_now FROM temp.change"
                )
            }
            for path, criterion, then, now, way, because in store.execute(
                "SELECT path, criterion, grade_then, grade_now, way, because FROM temp.moved"
            ):
                move = (then, now, way, tuple(json.loads(because)))
                changes[path]["moved"][criterion] = move
            for path, cause in store.execute("SELECT path, cause FROM temp.cause"):
                changes[path]["causes"].add(cause)
            console, text = self.invented.console()
            draw_comparison(store, Page(console), told)
        return told, changes, " ".join(text.getvalue().split())


def _kept(value: float) -> float | None:
    """A value as the store keeps it."""
    return None if math.isnan(value) else value


@pytest.fixture
def world(invented: Any) -> World:
    made = World(invented)
    made.rules("then", share=0.5, reserve=100.0)
    made.rules("now", share=0.3, reserve=100.0)
    return made


def test_what_is_the_same_is_only_counted(world: World) -> None:
    rows = [world.row("a.yaml", "now", share=0.2), world.row("b.yaml", "now", share=0.9)]
    again = [replace(row, reviewed_at="2032-01-01T00:00:00Z") for row in rows]
    for new in (rows, again):
        told, changes, text = world.compare(rows, new)
        assert told.same == 2 and not any(told.changes.values()) and changes == {}
        assert "2 are as before." in text and "yaml" not in text


def test_a_stricter_rule_is_named_as_the_cause(world: World) -> None:
    old = [world.row("a.yaml", "then", share=0.4, reserve=200.0)]
    new = [world.row("a.yaml", "now", share=0.4, reserve=200.0)]
    told, changes, text = world.compare(old, new)
    assert told.changes["worse"] == 1
    because = ("rule rule.share changed",)
    assert changes["a.yaml"] == {
        "change": "worse",
        "then": "may proceed",
        "now": "must not proceed",
        "moved": {"rule.share": ("acceptable", "unacceptable", "worse", because)},
        "causes": set(because),
    }
    assert "a.yaml (Set-up a.yaml); was: may proceed, now: must not proceed." in text
    assert (
        "The share, tube: acceptable before, unacceptable now, because rule rule.share changed."
        in text
    )


def test_a_milder_rule_makes_it_better(world: World) -> None:
    old = [world.row("a.yaml", "now", share=0.4, reserve=200.0)]
    new = [world.row("a.yaml", "then", share=0.4, reserve=200.0)]
    told, changes, _ = world.compare(old, new, rules="then")
    assert told.changes["better"] == 1
    assert changes["a.yaml"]["moved"]["rule.share"][2:] == ("better", ("rule rule.share changed",))


@pytest.mark.parametrize(
    ("told", "cause"),
    [
        ({"scenario_sha256": "another"}, SCENARIO),
        ({"code": "c2"}, CODE),
        ({"plugins": json.dumps([{"name": "own", "sha256": "1"}])}, "plugin own is new"),
        ({"data": json.dumps([{"kind": "substances", "name": "argon",
                               "file": "substances/argon", "sha256": "2"}])},
         "data substances/argon changed"),
    ],
)  # fmt: skip
def test_each_other_cause_is_told_from_its_hash(
    world: World, told: dict[str, Any], cause: str
) -> None:
    data = [{"kind": "substances", "name": "argon", "file": "substances/argon", "sha256": "1"}]
    before = {"data": json.dumps(data), "scenario_sha256": "one"}
    old = [world.row("a.yaml", "now", before, share=0.2, reserve=200.0)]
    new = [world.row("a.yaml", "now", before | told, share=0.4, reserve=200.0)]
    _, changes, text = world.compare(old, new)
    assert changes["a.yaml"]["causes"] == {cause}
    assert f"because {cause}." in text


def test_a_limit_that_changed_is_named(world: World) -> None:
    world.rules("now", limit=8.0, share=0.5, reserve=100.0)
    old = [world.row("a.yaml", "then", share=0.2, reserve=200.0)]
    new = [world.row("a.yaml", "now", share=0.6, reserve=200.0)]
    _, changes, _ = world.compare(old, new)
    assert changes["a.yaml"]["causes"] == {"limit demo.figure changed"}


def test_a_plugin_or_rule_can_change_come_and_go(world: World) -> None:
    def plugins(**hashes: str) -> dict[str, Any]:
        return {"plugins": json.dumps([{"name": n, "sha256": h} for n, h in hashes.items()])}

    world.rules("now", share=0.5, rating=0.0)
    old = [world.row("a.yaml", "then", plugins(a="1", b="1"), share=0.2, reserve=200.0)]
    new = [world.row("a.yaml", "now", plugins(b="2", c="1"), share=0.6, rating=1.0)]
    _, changes, _ = world.compare(old, new)
    moved = changes["a.yaml"]["moved"]
    several = ("plugin a is gone", "plugin b changed", "plugin c is new")
    assert moved["rule.share"][3] == several
    assert moved["rule.rating"][:3] == ("", "unacceptable", "worse")
    assert set(moved["rule.rating"][3]) == {"rule rule.rating is new", *several}
    assert moved["rule.reserve"] == ("acceptable", "", "gone", ("rule rule.reserve is gone",))


def test_the_time_a_plugin_has_and_its_failure_to_load_are_told(world: World) -> None:
    def plugin(**told: Any) -> dict[str, Any]:
        entry = {"name": "own", "sha256": "1", "seconds": 20.0, "failed": False} | told
        return {"plugins": json.dumps([entry])}

    old = [world.row("a.yaml", "now", plugin(), share=0.2, reserve=200.0)]
    for told, cause in (
        ({"seconds": 1.0}, "plugin own is given another time"),
        ({"failed": True}, "plugin own failed to load at one of the times"),
    ):
        new = [world.row("a.yaml", "now", plugin(**told), share=0.9, reserve=200.0)]
        _, changes, _ = world.compare(old, new)
        assert changes["a.yaml"]["causes"] == {cause}


def test_a_rule_that_explains_the_grade_alone_is_the_only_cause(world: World) -> None:
    """The scenario changed too, but the measures of then come to the same by the rules of now."""
    old = [world.row("a.yaml", "then", {"scenario_sha256": "one"}, share=0.4, reserve=200.0)]
    new = [world.row("a.yaml", "now", {"scenario_sha256": "two"}, share=0.35, reserve=200.0)]
    _, changes, _ = world.compare(old, new)
    assert changes["a.yaml"]["causes"] == {"rule rule.share changed"}


def test_a_rule_that_does_not_explain_the_grade_alone_may_have_a_part_in_it(world: World) -> None:
    """0.4 was acceptable by the rules of then, and 0.2 is by those of now: it takes both."""
    old = [world.row("a.yaml", "then", {"scenario_sha256": "one"}, share=0.2, reserve=200.0)]
    new = [world.row("a.yaml", "now", {"scenario_sha256": "two"}, share=0.4, reserve=200.0)]
    _, changes, _ = world.compare(old, new)
    assert changes["a.yaml"]["causes"] == {SCENARIO, "rule rule.share changed"}


def test_without_the_measures_of_then_every_cause_stays_possible(world: World) -> None:
    for measures in (None, b"damaged"):
        then = {"scenario_sha256": "one", "measures": measures}
        old = [world.row("a.yaml", "then", then, share=0.2, reserve=200.0)]
        new = [world.row("a.yaml", "now", {"scenario_sha256": "two"}, share=0.9, reserve=200.0)]
        _, changes, text = world.compare(old, new)
        assert changes["a.yaml"]["causes"] == {SCENARIO, "rule rule.share changed"}
        assert "because of one or more of: rule rule.share changed; the scenario changed" in text


def test_the_verdict_decides_and_with_the_same_verdict_any_worse_finding(world: World) -> None:
    old = [
        world.row("mixed.yaml", "now", {"code": "c0"}, share=0.2, reserve=50.0),
        world.row("mended.yaml", "now", {"code": "c0"}, share=0.9, reserve=200.0),
    ]
    new = [
        world.row("mixed.yaml", "now", share=0.9, reserve=200.0),
        world.row("mended.yaml", "now", share=0.2, reserve=200.0),
    ]
    _, changes, text = world.compare(old, new)
    assert {path: told["change"] for path, told in changes.items()} == {
        "mixed.yaml": "worse",
        "mended.yaml": "better",
    }
    assert "mixed.yaml (Set-up mixed.yaml); must not proceed, as before." in text


def test_a_rule_nobody_asks_for_any_more_is_told(world: World) -> None:
    world.rules("now", share=0.5)
    old = [world.row("a.yaml", "then", share=0.2, reserve=50.0)]
    new = [world.row("a.yaml", "now", share=0.2)]
    told, changes, text = world.compare(old, new)
    assert (told.changes["better"], told.changes["otherwise"]) == (0, 1)
    assert changes["a.yaml"]["moved"]["rule.reserve"][2] == "gone"
    assert "Verdict changed, but the set-up is not better for it" in text
    assert "unacceptable before, and not asked for now" in text
    assert "Asked for before and not now, by number of set-ups 1 the reserve (rule.reserve)" in text


def test_a_rule_that_is_silent_does_not_make_a_set_up_better(world: World) -> None:
    """Whatever else became better: what spoke against it has not been mended."""
    world.rules("now", share=0.5)
    cases = {
        "rule": ({}, "now", "otherwise"),
        "plugin": ({"plugins": json.dumps([{"name": "own", "sha256": "2"}])}, "then", "otherwise"),
        "code": ({"code": "c2"}, "then", "otherwise"),
        "both": ({"scenario_sha256": "two"}, "now", "otherwise"),
        "set-up": ({"scenario_sha256": "two"}, "then", "better"),
    }
    before = {"scenario_sha256": "one"}
    old = [world.row(path, "then", before, share=0.9, reserve=50.0) for path in cases]
    for path, (told, rules, change) in cases.items():
        row = world.row(path, rules, before | told, share=0.2, reserve=200.0)
        kept = tuple(each for each in row.findings if each[0] != "rule.reserve")
        _, changes, text = world.compare(old, [replace(row, findings=kept)], rules)
        assert changes[path]["then"] == "must not proceed"
        assert changes[path]["now"] == "may proceed"
        assert changes[path]["change"] == change, path
        if change == "otherwise":
            assert text.index("not asked for now") < text.index("acceptable now")


def test_an_acceptable_finding_more_is_neither_better_nor_worse(world: World) -> None:
    world.rules("now", share=0.5, reserve=100.0, rating=1.0)
    old = [world.row("a.yaml", "then", share=0.2, reserve=200.0)]
    new = [world.row("a.yaml", "now", share=0.2, reserve=200.0, rating=0.0)]
    told, changes, text = world.compare(old, new)
    assert told.changes == dict.fromkeys(CHANGES, 0) | {"otherwise": 1}
    assert changes["a.yaml"]["moved"]["rule.rating"][:3] == ("", "acceptable", "new")
    assert "1 changed otherwise" in text


def test_what_nobody_can_judge_any_more_is_not_better(world: World) -> None:
    old = [world.row("a.yaml", "now", {"code": "c0"}, share=0.9, reserve=200.0)]
    new = [world.row("a.yaml", "now", share=float("nan"), reserve=200.0)]
    told, changes, _ = world.compare(old, new)
    assert told.changes == dict.fromkeys(CHANGES, 0) | {"otherwise": 1}
    assert changes["a.yaml"]["moved"]["rule.share"][:3] == ("unacceptable", "undetermined", "other")
    assert world.compare(new, old)[1]["a.yaml"]["change"] == "worse"


def test_undetermined_that_only_makes_a_condition_now_is_no_silent_move(world: World) -> None:
    def row(blocks: int, said: str) -> Row:
        finding = world.invented.finding("rule.share", "undetermined", None, blocks=blocks)
        return world.invented.row("a.yaml", [finding], rules="now", verdict=said, code=said)

    old, new = row(1, "cannot be judged"), row(0, "may proceed with conditions")
    told, changes, _ = world.compare([old], [new])
    assert told.changes["better"] == 1
    moved = changes["a.yaml"]["moved"]["rule.share"]
    assert moved[:3] == ("undetermined", "undetermined, as a condition", "better")


def test_what_cannot_be_reviewed_is_worse_whatever_it_was(world: World) -> None:
    fine = world.row("a.yaml", "now", share=0.2, reserve=200.0)
    broken = world.invented.row("a.yaml", state="error", error="no", rules="now",
                                file_sha256="other")  # fmt: skip
    _, changes, text = world.compare([fine], [broken])
    assert changes["a.yaml"]["change"] == "worse"
    assert changes["a.yaml"]["now"] == UNREVIEWED
    assert "was: may proceed, now: could not be reviewed. Because the scenario changed." in text
    assert world.compare([broken], [fine])[1]["a.yaml"]["change"] == "better"
    refused = world.row("a.yaml", "now", share=0.9, reserve=200.0)
    assert world.compare([refused], [broken])[1]["a.yaml"]["change"] == "worse"
    _, changes, text = world.compare([broken], [refused])
    assert changes["a.yaml"]["change"] == "otherwise"
    assert "Verdict changed, but the set-up is not better for it 1 a.yaml" in text
    assert world.compare([broken], [replace(broken, error="other")])[1] == {}


def test_new_and_gone(world: World) -> None:
    stay = world.row("stay.yaml", "now", share=0.2, reserve=200.0)
    here = world.row("here.yaml", "now", share=0.2, reserve=200.0)
    skipped = world.invented.row("note.yaml", state="skipped", source="other", rules="now")
    told, changes, text = world.compare([stay, here, skipped], [stay, replace(here, path="x.yaml")])
    assert told.changes == dict.fromkeys(CHANGES, 0) | {"new": 1, "gone": 1}
    assert changes["x.yaml"]["then"] is None and changes["x.yaml"]["now"] == "may proceed"
    assert changes["here.yaml"]["then"] == "may proceed" and changes["here.yaml"]["now"] is None
    assert "1 is new, 1 is gone and 1 is as before." in text
    assert "New: x.yaml. Gone: here.yaml." in text


def test_stores_without_a_common_path_are_remarked_on(world: World) -> None:
    row = world.row("a.yaml", "now", share=0.2, reserve=200.0)
    told, _, text = world.compare([row], [replace(row, path="lab/a.yaml")])
    assert told.strangers and "No path is in both." in text
    assert not world.compare([row], [row])[0].strangers


def test_only_what_is_selected_is_compared(world: World) -> None:
    hot, cold = {"facts": '{"has_heat": true}'}, {"facts": '{"has_heat": false}'}
    old = [
        world.row("hot.yaml", "then", hot, share=0.4, reserve=200.0),
        world.row("cold.yaml", "then", cold, share=0.4, reserve=200.0),
        world.row("gone hot.yaml", "then", hot, share=0.4, reserve=200.0),
        world.row("gone cold.yaml", "then", cold, share=0.4, reserve=200.0),
        world.row("gone unknown.yaml", "then", {"facts": "{}"}, share=0.4, reserve=200.0),
    ]
    new = [
        world.row("hot.yaml", "now", hot, share=0.4, reserve=200.0),
        world.row("cold.yaml", "now", cold, share=0.4, reserve=200.0),
    ]
    _, changes, _ = world.compare(old, new, select="facts.has_heat")
    assert {path: told["change"] for path, told in changes.items()} == {
        "hot.yaml": "worse",
        "gone hot.yaml": "gone",
        "gone unknown.yaml": "gone",
    }


def test_many_changes_take_few_lines(world: World) -> None:
    old = [world.row(f"{n:03}.yaml", "then", share=0.4, reserve=200.0) for n in range(60)]
    new = [world.row(f"{n:03}.yaml", "now", share=0.4, reserve=200.0) for n in range(60)]
    told, _, text = world.compare(old, new)
    assert told.changes["worse"] == 60
    assert "and 56 more; --format json names them." in text
    assert "60 rule rule.share changed" in text


def test_what_nothing_explains_is_said(world: World) -> None:
    assert because([]) == "and nothing that is kept says why"


def test_a_store_cannot_be_compared_with_itself(invented: Any) -> None:
    path = invented.write(invented.row("a.yaml"))
    with pytest.raises(StoreError, match="is the store that this audit writes to"):
        check_against(path, path.parent / "." / path.name)
    check_against(path, path.parent / "none.sqlite")


def test_the_earlier_store_must_be_one(invented: Any) -> None:
    other = invented.folder / "notes.txt"
    other.write_text("no store " * 50)
    for path in (other, invented.folder / "nowhere.sqlite"):
        with pytest.raises(StoreError):
            check_against(path, invented.path())


def test_the_earlier_store_is_only_read(world: World) -> None:
    path = world.invented.write(world.invented.row("a.yaml"), name="old.sqlite")
    before = path.read_bytes()
    beside = sorted(path.parent.iterdir())
    with earlier(path) as store:
        assert choose(store, None, world.kinds).chosen == 1
    assert path.read_bytes() == before
    assert sorted(path.parent.iterdir()) == beside


def test_an_earlier_store_that_somebody_writes_to(world: World) -> None:
    """What is written before is read; writing meanwhile is noticed."""
    path = world.invented.write(world.invented.row("a.yaml"), name="old.sqlite")
    with opened(path) as writer:
        writer.put(world.invented.row("b.yaml"))
        with earlier(path) as store:
            assert choose(store, None, world.kinds).chosen == 2
    match = "written to while"
    with pytest.raises(StoreError, match=match), earlier(path), opened(path) as writer:
        writer.put(world.invented.row("c.yaml"))
