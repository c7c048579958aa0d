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
from collections.abc import Collection, Iterable
from typing import NamedTuple

import pytest

from review import Review
from review.interface.result import Outcome


class Row(NamedTuple):
    """Upsets whose ids match a pattern as a whole come to this grade, by this criterion.

    Of what is acceptable no criterion decides, so none is expected.
    """

    pattern: str
    grade: str
    criterion: str = ""

    def expects(self, outcome: Outcome, planned: Collection[str]) -> bool:
        """Whether an upset comes to this row; `planned` are the conditions of the plan."""
        if self.grade == "acceptable" or outcome.grade != self.grade:
            return outcome.grade == self.grade
        return outcome.criterion in (planned if self.criterion == PLANNED else (self.criterion,))


def compare(rows: Iterable[Row], review: Review) -> list[str]:
    """Where a table worked by hand and a review differ; each upset needs exactly one row."""
    rows, wrong, used = list(rows), [], set()
    planned = {
        f.criterion for f in review.findings if f.case != "upset" and f.grade == "tolerable"
    }
    for outcome in review.outcomes:
        hits = [row for row in rows if re.fullmatch(row.pattern, outcome.run)]
        used.update(hits)
        if len(hits) != 1:
            wrong.append(f"{outcome.run}: {len(hits)} rows match")
        elif not hits[0].expects(outcome, planned):
            wrong.append(f"{outcome.run}: {outcome.grade} by {outcome.criterion}, not {hits[0]}")
    return wrong + [f"{row.pattern}: matches no upset" for row in rows if row not in used]


CAUGHT, MIXES = "ignition.hot_surface", "flammability.envelope"
TOUCH, HANDLED = "heat.hot_part", "heat.warm_part"
#: One of the conditions that the plan has anyway: the failure adds none.
PLANNED = "a condition of the plan"

FORMING_GAS = (
    # No argon in the purge: air is still in the tube when forming gas comes and it is heated.
    Row("flow lost:argon:purge", "tolerable", CAUGHT),
    # 5 of 10 minutes done: less than a tenth of the air is left in the tube, more of it before it.
    Row("flow lost:argon:purge:midway", "tolerable", MIXES),
    # Only the sweep lost: air is drawn in. The oxide has left 1.4 % hydrogen in the tube, a third
    # of what burns cold; hose and inlet before it hold 5 %.
    Row("flow lost:argon:sweep", "tolerable", MIXES),
    # 10 minutes of sweep are done: argon is in the tube and no fuel meets the air drawn in.
    Row("flow lost:argon:(sweep:midway|cool)", "tolerable", TOUCH),
    # By the end of the step it is 20 + 280 exp(-60/25) = 45 degC: nothing is hot any more.
    Row("flow lost:argon:cool:midway", "acceptable"),
    # 2 L/min carry heat through the end of the tube into the hose behind it.
    Row("flow at its most:argon:(purge|sweep|cool)", "tolerable", HANDLED),
    Row("flow at its most:forming gas:(heat|reduce)", "tolerable", HANDLED),
    # The flow controllers hold their rates: as planned, unreacted gas at the outlet burns in air
    # (1.59) while forming gas flows, and the furnace is hot all the time.
    Row("regulator failed:.*", "tolerable", PLANNED),
    # 700 mL/min with 1.43 % hydrogen: 0.47 at the outlet, does not burn.
    Row("flow not stopped:argon:heat", "tolerable", TOUCH),
    # The tube still holds 1.43 % hydrogen when everything is off and air comes in, at 45 degC: a
    # third of what burns.
    Row("flow not stopped:forming gas:sweep", "tolerable", PLANNED),
    # Nothing but argon was ever in it.
    Row("flow lost:forming gas:heat", "tolerable", TOUCH),
    # Forming gas stands still, 5 % before the tube, and air is drawn in from its end.
    Row("flow lost:forming gas:(heat:midway|reduce(:midway)?)", "tolerable", MIXES),
    # 315 degC instead of 300: 15 K hotter to touch; fuel and air stay apart.
    Row("heat at its most:furnace:.*", "tolerable", TOUCH),
    # A cold tube lets all hydrogen through to the outlet, as it may while it warms.
    Row("heat lost:furnace:(heat|reduce|sweep)", "tolerable", PLANNED),
    # Plugged before the tube from the start: forming gas is pressed into air, in cold metal or
    # plastic; the tube itself gets nothing.
    Row("blocked:(inlet|feed hose):purge", "tolerable", MIXES),
    # Plugged behind the tube's inlet from the start: forming gas is pressed into hot air.
    Row("blocked:(tube|outlet hose|outlet):purge", "tolerable", CAUGHT),
    # Plugged after the purge: hydrogen is pressed into argon and stays there.
    Row("blocked:.*:heat", "tolerable", PLANNED),
    # Plugged before the hose that holds 5 %: air comes in from the tube's end.
    Row("blocked:inlet:(reduce|sweep)", "tolerable", MIXES),
    # Plugged further on: what is left open holds 1.4 %, or no air comes in.
    Row("blocked:(feed hose|tube|outlet hose|outlet):(reduce|sweep)", "tolerable", PLANNED),
    Row("blocked:.*:cool", "tolerable", TOUCH),
    # All gas leaves at the cold inlet: the hose behind it, full of 5 %, is open to air.
    Row("joint open outward:inlet:(purge|heat|reduce|sweep)", "tolerable", MIXES),
    # Opened behind the hose the forming gas leaves beside the tube that is heated.
    Row("joint open outward:feed hose:(purge|heat|reduce)", "tolerable", CAUGHT),
    # Only argon leaves there in the sweep, and the tube holds 1.4 %.
    Row("joint open outward:feed hose:sweep", "tolerable", PLANNED),
    Row("joint open outward:(inlet|feed hose):cool", "tolerable", TOUCH),
    # The tube's joint is beside its hot zone; the hose behind it is cold.
    Row("joint open outward:tube:(purge|heat|reduce)", "tolerable", CAUGHT),
    Row("joint open outward:outlet hose:(purge|heat|reduce)", "tolerable", MIXES),
    Row("joint open outward:(tube|outlet hose):(sweep|cool)", "tolerable", TOUCH),
    # Gas under slight pressure flows past an open joint that can only let air in: as planned.
    Row("joint open inward:.*", "tolerable", PLANNED),
    # The tube is gone: forming gas meets air beside glass of 300 degC; in the sweep it is argon.
    Row("broken:tube:(purge|heat|reduce)", "tolerable", CAUGHT),
    Row("broken:tube:(sweep|cool)", "tolerable", TOUCH),
    # Nobody says what the outlet is made of, so it may break: gas meets air where it does anyway.
    Row("broken:outlet:(purge|heat|reduce)", "tolerable", MIXES),
    Row("broken:outlet:(sweep|cool)", "tolerable", TOUCH),
    # The oxide may be used up anyway, and while it warms nothing reacts: as planned.
    Row("(no reaction|reaction complete):tube:.*", "tolerable", PLANNED),
    # 10 mL/min of hydrogen for an hour are 0.01 % of the lower limit in 120 m3.
    Row("ventilation lost:.*", "tolerable", PLANNED),
    # The furnace is off from the start. No gas: the inlet keeps its air. All gas: it burns at the
    # outlet as planned.
    Row("power lost:closes:(purge|heat)", "acceptable"),
    Row("power lost:opens:(purge|heat)", "tolerable", PLANNED),
    # The tube is hot: without gas it draws in air, with 2 L/min it heats the hose.
    Row("power lost:closes:(reduce|sweep)", "tolerable", MIXES),
    Row("power lost:closes:cool", "tolerable", TOUCH),
    Row("power lost:opens:(reduce|sweep|cool)", "tolerable", HANDLED),
    # The furnace comes on again by itself; the gas has gone off, so air is drawn in as if lost.
    Row("power back:heat", "tolerable", PLANNED),
    Row("power back:(reduce|sweep)", "tolerable", MIXES),
    # What is on in the last step is argon.
    Row("left on:cool", "acceptable"),
    # Argon drives out what is left before it is hot again; 300 degC hot as it is by the plan.
    Row("begun again:.*", "tolerable", PLANNED),
    # Both stand for cylinders that do not burn: forming gas meets the air of the first step cold,
    # and air that is drawn in once all is off: lean in argon's place.
    Row("exchanged:argon:forming gas", "tolerable", MIXES),
    # Heated without a purge, or before it.
    Row("skipped:purge|swapped:purge:heat", "tolerable", CAUGHT),
    # Neither gas nor heat is ever turned on.
    Row("skipped:heat", "acceptable"),
    Row("skipped:reduce|swapped:heat:reduce", "tolerable", PLANNED),
    # Forming gas flows until all is off, then air comes in at 45 degC, a tenth of ignition.
    Row("skipped:sweep", "tolerable", MIXES),
    # Furnace on to the last: hot when everybody leaves; only argon in it.
    Row("skipped:cool", "tolerable", TOUCH),
    # Swept before it is reduced: the argon stays on to the end.
    Row("swapped:reduce:sweep", "tolerable", TOUCH),
    # Forming gas flows through the cooling tube, where nothing reacts, and is swept out last.
    Row("swapped:sweep:cool", "tolerable", PLANNED),
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
    # 4 L of 1 % acid gas once more are 0.0017 mol, against lye for 0.2 mol.
    Row("begun again:.*", "acceptable"),
    # Acid gas through the other's valve while it purges and sweeps: 1 % of a few litres into lye.
    Row("hoses exchanged:acid gas:nitrogen", "acceptable"),
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
    assert compare(rows, demo(name).review) == []


def test_a_wrong_row_an_unused_row_and_a_row_too_many_are_found(demo) -> None:
    review = demo("hydrogen_chloride_absorbed").review
    wrong = compare([Row(".*", "acceptable")], review)
    assert any("joint open outward:trap:dose: tolerable" in line for line in wrong)
    more = [*HYDROGEN_CHLORIDE, Row("joint open.*", "acceptable"), Row("flood", "acceptable")]
    wrong = compare(more, review)
    assert "joint open inward:trap:dose: 2 rows match" in wrong
    assert "flood: matches no upset" in wrong
