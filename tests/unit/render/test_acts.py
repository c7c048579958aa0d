"""What a condition says where a measure has been lost on the way, as in samples."""

from __future__ import annotations

from dataclasses import replace

from review import Engine, loads
from review.render.filling import UNKNOWN
from review.render.telling import contents

TEXT = """
title: Hydrogen from zinc and dilute acid
reagents:
  zinc: {state: solid, composition: {zinc: 100 %}, amount: 1 g}
  acid: {state: liquid, composition: sulfuric acid 2 mol/L, amount: 50 mL}
  hydrogen: {state: gas, composition: {hydrogen: 100 %}, held: {as: generator, rate: 20 mL/min,
    equation: Zn + H2SO4 -> ZnSO4 + H2}}
flows: {gas: {reagent: hydrogen, into: flask, rate: 20 mL/min, reference: ambient}}
train:
- {id: flask, kind: vessel, size: 250 mL round flask, joint: NS 29/32, in: hood}
- {id: out, kind: outlet, to: hood, inner_diameter: 6 mm}
procedure: [{step: make, duration: 10 min, flows: {gas: on}}]
"""


def test_a_note_that_is_not_known_is_left_out() -> None:
    review = Engine().review(loads(TEXT, "acts.yaml"))
    (pair,) = [c for c in review.causes if review.findings[c.leading].kind == "reactive.pair"]
    without = replace(
        review, measures=tuple(m for m in review.measures if m.kind != "reactive.pair")
    )
    for told, noted in ((review, True), (without, False)):
        (line,) = [act for act in contents(told).acts if pair in act.causes]
        assert line.text.endswith(").") is noted and UNKNOWN not in line.text
