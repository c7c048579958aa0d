"""What every single failure of two demos comes to, worked out by hand as a table.

Each row says for a group of failures what grade they come to and which criterion decides. Of equal
grades the one counts that the failure makes worse than the same step of the plan; of those one that
must block (ignition, breathing, bursting) before one that need not; of those the one nearest to
its limit. The reason for each row stands beside it. Every failure must match exactly one row, and
every row at least one failure.

Forming gas. Its tube is at 300 degC while heated, 75 % of hydrogen's 400 degC: whenever forming gas
and air share the hot tube, ignition decides, and is a condition (up to 80 %). The furnace's outside
counts as bare metal at 300 degC, 235 K over the burn threshold of 65 degC: wherever it is hot as
planned this condition stands anyway.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

import pytest

from review.interface.result import Outcome


class Row(NamedTuple):
    """Upsets whose ids match a pattern as a whole come to this grade, by this criterion.

    Of what is acceptable no criterion decides, so none is expected.
    """

    pattern: str
    grade: str
    criterion: str = ""

    def expects(self, outcome: Outcome) -> bool:
        same = outcome.grade == self.grade
        return same and (self.grade == "acceptable" or outcome.criterion == self.criterion)


def compare(rows: Iterable[Row], outcomes: Iterable[Outcome]) -> list[str]:
    """Where a table worked by hand and a review differ; each upset needs exactly one row."""
    rows, wrong, used = list(rows), [], set()
    for outcome in outcomes:
        hits = [row for row in rows if re.fullmatch(row.pattern, outcome.run)]
        used.update(hits)
        if len(hits) != 1:
            wrong.append(f"{outcome.run}: {len(hits)} rows match")
        elif not hits[0].expects(outcome):
            wrong.append(f"{outcome.run}: {outcome.grade} by {outcome.criterion}, not {hits[0]}")
    return wrong + [f"{row.pattern}: matches no upset" for row in rows if row not in used]


CAUGHT, BURNS = "ignition.hot_surface", "flammability.outlet"
TOUCH, HANDLED = "heat.hot_part", "heat.handled_part"
SHARE, STEEL = "flammability.allowance", "corrosion.wetted"

FORMING_GAS = (
    # No argon in the purge: air is still in the tube when forming gas comes and it is heated. With
    # the purge done and only the sweep lost, the hot tube full of forming gas draws in air.
    Row("flow lost:argon:purge(:midway)?", "tolerable", CAUGHT),
    Row("flow lost:argon:sweep", "tolerable", CAUGHT),
    # 10 minutes of sweep are done: argon is in the tube and no fuel meets the air drawn in.
    Row("flow lost:argon:(sweep:midway|cool)", "tolerable", TOUCH),
    # By the end of the step it is 20 + 280 exp(-60/25) = 45 degC: nothing is hot any more.
    Row("flow lost:argon:cool:midway", "acceptable"),
    # 2 L/min carry heat through the end of the tube into the hose behind it.
    Row("flow at its most:argon:(purge|sweep|cool)", "tolerable", HANDLED),
    Row("flow at its most:forming gas:(heat|reduce)", "tolerable", HANDLED),
    # The flow controllers hold their rates: as planned, unreacted gas at the outlet burns in air
    # (1.59) while forming gas flows, and the furnace is hot all the time.
    Row("regulator failed:(argon:purge|forming gas:.*)", "tolerable", BURNS),
    Row("regulator failed:argon:(sweep|cool)", "tolerable", TOUCH),
    # 700 mL/min with 1.43 % hydrogen: 0.47 at the outlet, does not burn.
    Row("flow not stopped:argon:heat", "tolerable", TOUCH),
    # The tube still holds 1.43 % hydrogen when everything is off and air comes in, at 45 degC.
    Row("flow not stopped:forming gas:sweep", "tolerable", SHARE),
    # Nothing but argon was ever in it.
    Row("flow lost:forming gas:heat", "tolerable", TOUCH),
    # Forming gas stands still in the hot tube, open to the air at its end.
    Row("flow lost:forming gas:(heat:midway|reduce(:midway)?)", "tolerable", CAUGHT),
    # 315 degC instead of 300: 15 K hotter to touch; fuel and air stay apart.
    Row("heat at its most:furnace:.*", "tolerable", TOUCH),
    # A cold tube lets all hydrogen through to the outlet, as it may while it warms.
    Row("heat lost:furnace:(heat|reduce)", "tolerable", BURNS),
    Row("heat lost:furnace:sweep", "tolerable", TOUCH),
    # Plugged before the tube from the start: forming gas is pressed into air, in cold metal or
    # plastic; the tube itself gets nothing.
    Row("blocked:(inlet|feed hose):purge", "tolerable", SHARE),
    # Plugged behind the tube's inlet from the start: forming gas is pressed into hot air.
    Row("blocked:(tube|outlet hose|outlet):purge", "tolerable", CAUGHT),
    # Plugged after the purge: hydrogen is pressed into argon and stays there, in the steel inlet
    # too, for longer than planned.
    Row("blocked:.*:heat", "tolerable", STEEL),
    # Plugged before the tube once it holds forming gas: its end draws in air while hot.
    Row("blocked:(inlet|feed hose):(reduce|sweep)", "tolerable", CAUGHT),
    # Plugged in or behind the tube: no air comes in, hydrogen stays.
    Row("blocked:(tube|outlet hose|outlet):(reduce|sweep)", "tolerable", STEEL),
    Row("blocked:.*:cool", "tolerable", TOUCH),
    # All gas leaves before the tube: it draws in air; there is forming gas in it from reduce on.
    Row("joint open outward:(inlet|feed hose):(reduce|sweep)", "tolerable", CAUGHT),
    # Opened earlier, forming gas leaves beside what stands behind the joint open to air: beside the
    # cold hose, or beside the tube that is heated.
    Row("joint open outward:inlet:(purge|heat)", "tolerable", SHARE),
    Row("joint open outward:feed hose:(purge|heat)", "tolerable", CAUGHT),
    Row("joint open outward:(inlet|feed hose):cool", "tolerable", TOUCH),
    # All gas leaves behind the tube's hot zone and goes on flowing through it; forming gas then
    # passes the cold end piece, which is open to air.
    Row("joint open outward:(tube|outlet hose):(purge|heat|reduce)", "tolerable", SHARE),
    Row("joint open outward:(tube|outlet hose):(sweep|cool)", "tolerable", TOUCH),
    # Gas under slight pressure flows past an open joint that can only let air in: as planned.
    Row("joint open inward:.*:(purge|heat|reduce)", "tolerable", BURNS),
    Row("joint open inward:.*:(sweep|cool)", "tolerable", TOUCH),
    # The tube is gone: forming gas meets air beside glass of 300 degC.
    Row("broken:tube:(purge|heat|reduce|sweep)", "tolerable", CAUGHT),
    Row("broken:tube:cool", "tolerable", TOUCH),
    # Nobody says what the outlet is made of, so it may break: gas meets air where it does anyway.
    Row("broken:outlet:(purge|heat|reduce)", "tolerable", SHARE),
    Row("broken:outlet:(sweep|cool)", "tolerable", TOUCH),
    # The oxide may be used up anyway, and while it warms nothing reacts: as planned.
    Row("(no reaction|reaction complete):tube:(purge|heat|reduce)", "tolerable", BURNS),
    Row("(no reaction|reaction complete):tube:(sweep|cool)", "tolerable", TOUCH),
    # 10 mL/min of hydrogen for an hour are 0.01 % of the lower limit in 120 m3.
    Row("ventilation lost:(purge|heat|reduce)", "tolerable", BURNS),
    Row("ventilation lost:(sweep|cool)", "tolerable", TOUCH),
    # The furnace is off from the start. No gas: the inlet keeps its air. All gas: it burns at the
    # outlet as planned.
    Row("power lost:closes:purge", "tolerable", STEEL),
    Row("power lost:closes:heat", "acceptable"),
    Row("power lost:opens:(purge|heat)", "tolerable", BURNS),
    # The tube is hot: without gas it draws in air, with 2 L/min it heats the hose.
    Row("power lost:closes:(reduce|sweep)", "tolerable", CAUGHT),
    Row("power lost:closes:cool", "tolerable", TOUCH),
    Row("power lost:opens:(reduce|sweep|cool)", "tolerable", HANDLED),
    # Heated without a purge, or before it.
    Row("skipped:purge|swapped:purge:heat", "tolerable", CAUGHT),
    # Neither gas nor heat is ever turned on.
    Row("skipped:heat", "acceptable"),
    Row("skipped:reduce|swapped:heat:reduce", "tolerable", BURNS),
    # Forming gas flows until all is off, then air comes in at 45 degC, a tenth of ignition.
    Row("skipped:sweep", "tolerable", SHARE),
    # Furnace on to the last: hot when everybody leaves; only argon in it.
    Row("skipped:cool", "tolerable", TOUCH),
    # Swept before it is reduced: the argon stays on to the end.
    Row("swapped:reduce:sweep", "tolerable", TOUCH),
    # Forming gas flows through the cooling tube, where nothing reacts, and is swept out last.
    Row("swapped:sweep:cool", "tolerable", BURNS),
)

#: Hydrogen chloride. Ceiling 2 ppm; half of it is acceptable, and after a failure three times it is
#: a condition. What is let out on the bench spreads through 0.0393 m3/s of air.
CEILING = "exposure.ceiling"
HYDROGEN_CHLORIDE = (
    # Before the lye the gas holds 2 %: 6 mL/min as the sweep pushes it out, 2.5 ppm and more.
    Row("joint open outward:(inlet|feed hose|trap):.*", "tolerable", CEILING),
    Row("broken:(trap|wash bottle):.*", "tolerable", CEILING),
    # Behind the lye 5 % of that are left: 0.07 of the ceiling.
    Row("joint open outward:(wash bottle|outlet hose):.*", "acceptable"),
    # Nobody says what the outlet is made of, so it may break: scrubbed gas into the room.
    Row("broken:outlet:.*", "acceptable"),
    # Spent lye: all of it into a proven hood, that lets 1e-4 ppm out.
    Row("absorbent spent:wash bottle:.*", "acceptable"),
    # Lost ventilation: 5 % of 2 mL/min into the room.
    Row("ventilation lost:.*", "acceptable"),
    # 300 mL/min are three times as much as planned, into lye and hood.
    Row("flow (lost|at its most|not stopped):(acid gas|nitrogen):.*", "acceptable"),
    # Flow controllers hold the rate.
    Row("regulator failed:.*", "acceptable"),
    # All supplies end at 0.2 bar; the glass holds 0.5 bar: a share of 0.4.
    Row("blocked:.*", "acceptable"),
    # Slight pressure inside keeps air out, and air does no harm.
    Row("joint open inward:.*", "acceptable"),
    # Acid gas closes, nitrogen stays, the hood stops: what is in the train leaves through lye.
    Row("power lost:.*", "acceptable"),
    # Nitrogen at 300 mL/min overnight: 0.4 m3 of it in 80 m3.
    Row("left on:sweep", "acceptable"),
    # Acid left in the train stays there; 5 L of gas through lye in any order.
    Row("(skipped|swapped):.*", "acceptable"),
)


@pytest.mark.parametrize(
    ("name", "rows"),
    [
        ("copper_oxide_forming_gas", FORMING_GAS),
        ("hydrogen_chloride_absorbed", HYDROGEN_CHLORIDE),
    ],
    ids=["forming gas", "hydrogen chloride"],
)
def test_every_failure_comes_to_what_its_row_says(demo, name: str, rows: tuple[Row, ...]) -> None:
    assert compare(rows, demo(name).review.outcomes) == []


def test_a_wrong_row_an_unused_row_and_a_row_too_many_are_found(demo) -> None:
    outcomes = demo("hydrogen_chloride_absorbed").review.outcomes
    wrong = compare([Row(".*", "acceptable")], outcomes)
    assert any("joint open outward:trap:dose: tolerable" in line for line in wrong)
    more = [*HYDROGEN_CHLORIDE, Row("joint open.*", "acceptable"), Row("flood", "acceptable")]
    wrong = compare(more, outcomes)
    assert "joint open inward:trap:dose: 2 rows match" in wrong
    assert "flood: matches no upset" in wrong
