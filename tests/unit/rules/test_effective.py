"""The effective ruleset as plain data, and the hash of a criterion."""

import json
from dataclasses import fields, replace

from review.interface.result import Basis
from review.judge.conditions import Place, Vocabulary, compile_condition
from review.judge.effective import criterion_hash, ruleset_to_json
from review.judge.ruleset import Bands
from tests.support import shared_engine

ENGINE = shared_engine()


def test_it_is_plain_and_names_every_criterion_and_limit():
    told = json.loads(json.dumps(ruleset_to_json(ENGINE.ruleset), allow_nan=False))
    assert [c["id"] for c in told["criteria"]] == [c.id for c in ENGINE.ruleset.criteria]
    assert set(told["limits"]) == set(ENGINE.ruleset.limits)
    assert [x["sha256"] for x in told["layers"]] == [x.sha256 for x in ENGINE.ruleset.layers]


def test_the_hash_moves_with_all_that_decides_a_grade():
    criterion = next(c for c in ENGINE.ruleset.criteria if c.kind and c.require is None)
    kind = ENGINE.kinds[criterion.kind]
    condition = compile_condition(
        "facts.has_flow", Vocabulary({"has_flow": "bool"}, []), Place("x", 1)
    )
    other = {
        "id": "another.id",
        "title": "another",
        "kind": "another.kind",
        "cases": criterion.cases[:1],
        "bands": {case: Bands(None, 17.0) for case in criterion.bands},
        "floor": "tolerable" if criterion.floor == "acceptable" else "acceptable",
        "require": condition,
        "otherwise": "tolerable" if criterion.otherwise == "unacceptable" else "unacceptable",
        "applies": condition,
        "applies_reason": "another",
        "action": "another",
        "basis": Basis("another", "", "read"),
        "blocks": not criterion.blocks,
        "condition": "another",
        "disabled": not criterion.disabled,
        "disabled_reason": "another",
        "layer": "another",
    }
    known = {f.name for f in fields(criterion)} - {"place"}  # where it stands decides nothing
    assert set(other) == known
    plain = criterion_hash(criterion, kind)
    hashes = {criterion_hash(replace(criterion, **{k: v}), kind) for k, v in other.items()}
    assert plain not in hashes and len(hashes) == len(other)
    turned = replace(kind, worse="lower" if kind.worse == "higher" else "higher")
    assert criterion_hash(criterion, turned) != plain
    moved = replace(criterion, place=Place("elsewhere", 3))
    assert criterion_hash(moved, kind) == plain
