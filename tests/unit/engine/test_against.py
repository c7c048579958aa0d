"""Air that comes in against a flow: a trickle through a wide tube keeps none out."""

from __future__ import annotations

import pytest

HYDROGEN = "title: t\nreagents: {gas: {state: gas, composition: {hydrogen: 100 %}}}\n"
FEED = "flows: {{feed: {{reagent: gas, into: in, rate: {rate}, reference: standard}}}}\n"
TRAIN = (
    "train:\n- {{id: in, kind: line, inner_diameter: 4 mm, length: 500 mm}}\n"
    "- {{id: tube, kind: reactor, inner_diameter: 25 mm, length: 600 mm}}\n{more}"
    "- {{id: out, kind: outlet, to: hood}}\n"
)
NARROW = "- {id: exit, kind: line, inner_diameter: 4 mm, length: 200 mm}\n"
SEAL = (
    "- {id: bottle, kind: wash bottle, liquid: water, liquid_volume: 50 mL, gas_volume: 50 mL,"
    " dip_depth: 10 mm, dip_tube_bore: 8 mm, lift: 150 mm}\n"
)


def oxygen(walked, rate: str, more: str = "", item: str = "tube") -> float:
    setup = walked(HYDROGEN + FEED.format(rate=rate) + TRAIN.format(more=more))
    place = next(p for p in setup.places if p.id == item)
    row = [s.name for s in setup.species].index("oxygen")
    exposed = setup.stacked("exposed")[place.index, 0]
    return float(exposed * place.composition("drawn_from")[row, 0])


@pytest.mark.parametrize(
    ("rate", "more", "share"),
    [
        ("1 L/min", "", 0.2095),  # 0.2 A sqrt(g d) is 2.9 L/min
        ("5 L/min", "", 0.0),
        ("100 mL/min", NARROW, 0.0),  # 4 mm: no exchange, and 0.13 m/s against diffusion
        ("0.1 mL/min", NARROW, 0.15),  # 1.3e-4 m/s over 0.2 m: exp(-0.33) of air is left
        ("0.1 mL/min", SEAL, 0.0),
    ],
)
def test_a_wide_tube_needs_more_than_a_trickle(walked, rate, more, share) -> None:
    assert oxygen(walked, rate, more) == pytest.approx(share, rel=0.05, abs=1e-6)


def test_the_feed_line_behind_it_is_kept_clear(walked) -> None:
    assert oxygen(walked, "1 L/min", item="in") == 0.0
