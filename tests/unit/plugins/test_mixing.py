"""The worst mixture along a line, against looking at 5,000 mixtures on that line.

The three ratios are worked out again here from the envelope's definition: fuel over the lower
limit (Le Chatelier), oxygen over the limiting oxygen, and the straight upper boundary from
(0.2095 (1 - U), U) to (1 - Uo, Uo) over the fuel (Bureau of Mines Bulletin 627, triangular
diagrams). Looking can only miss the summit, so the answer may lie above it by what one step of
the grid can hide, and never below it.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from review.plugins.flammability.mixing import Line, ratios, worst, worst_allowance

POINTS = 5000
#: What rounding may take off the answer; a place 1e-12 beside a jump costs as much.
ROUNDING = 1e-9

Array = NDArray[np.float64]
Gas = tuple[float, ...]
Data = list[tuple[float, float, float]]


def gases(fuels: int) -> st.SearchStrategy[Gas]:
    """Mole fractions of `fuels` fuels, oxygen and one inert; any of them may be absent."""
    part = st.one_of(st.just(0.0), st.floats(0.001, 1.0))
    return (
        st.tuples(*[part] * (fuels + 2))
        .filter(lambda x: sum(x) > 0)
        .map(lambda x: tuple(v / sum(x) for v in x))
    )


def limits() -> st.SearchStrategy[tuple[float, float, float]]:
    """Lower limit, upper limit in air and in oxygen, each at or above the one before."""

    def widening(x: tuple[float, float, float]) -> tuple[float, float, float]:
        low, more, rest = x
        above = low + (1 - low) * more
        return low, above, above + (1 - above) * rest

    return st.tuples(st.floats(0.004, 0.2), st.floats(0, 1), st.floats(0, 1)).map(widening)


def line_of(start: Gas, end: Gas, data: Data, loc: float) -> Line:
    n = len(data)
    fuel = np.array([start[:n], end[:n]])
    low, up, pure = (np.array(column) for column in zip(*data, strict=True))
    return Line(
        fuel=fuel.sum(axis=1)[:, None],
        oxygen=np.array([[start[n]], [end[n]]]),
        lower=(fuel / low).sum(axis=1)[:, None],
        upper=(fuel / up).sum(axis=1)[:, None],
        upper_oxygen=(fuel / pure).sum(axis=1)[:, None],
        loc=np.array([loc]),
    )


def grid_ratios(start: Gas, end: Gas, data: Data, loc: float) -> tuple[Array, Array, Array]:
    """The three ratios at every grid point, from the definition of the envelope."""
    t = np.linspace(0, 1, POINTS)[:, None]
    mix = np.array(start) + t * (np.array(end) - np.array(start))
    x, oxygen = mix[:, :-2], mix[:, -2]
    low, up, pure = (np.array(column) for column in zip(*data, strict=True))
    fuel = x.sum(axis=1)
    with np.errstate(all="ignore"):
        lean = (x / low).sum(axis=1)
        inert = np.where(oxygen > 0, oxygen / loc if loc else np.inf, 0.0)
        u, uo = fuel / (x / up).sum(axis=1), fuel / (x / pure).sum(axis=1)
        first, last = 0.2095 * (1 - u), 1 - uo
        between = u + (oxygen - first) / (last - first) * (uo - u)
        boundary = np.where(
            oxygen >= last, uo, np.where((last > first) & (oxygen > first), between, u)
        )
        rich = np.where(fuel > 0, boundary / fuel, np.inf)
    if loc == 0:
        inert, rich = np.full(POINTS, np.inf), np.full(POINTS, np.inf)
    return lean, inert, rich


def looked_up(start: Gas, end: Gas, data: Data, loc: float) -> tuple[float, float]:
    """Largest smallest ratio on the grid, and what one step beside it can hide."""
    three = grid_ratios(start, end, data, loc)
    value = np.min(three, axis=0)
    near = int(np.argmax(value))
    window = slice(max(near - 2, 0), near + 3)
    hidden = 0.0
    for ratio in three:
        step = np.abs(np.diff(np.minimum(ratio[window], 1e9)))
        hidden = max(hidden, float(step.max()))
    return float(value[near]), hidden


def swapped(line: Line) -> Line:
    return Line(**{
        f.name: getattr(line, f.name)[::-1] if f.name != "loc" else line.loc for f in fields(line)
    })  # fmt: skip


CASES = settings(max_examples=60, deadline=None)


@pytest.mark.parametrize("fuels", [1, 2, 3])
def test_never_below_what_looking_finds(fuels: int) -> None:
    @CASES
    @given(
        gases(fuels), gases(fuels), st.lists(limits(), min_size=fuels, max_size=fuels),
        st.one_of(st.just(0.0), st.floats(0.005, 0.2)),
    )  # fmt: skip
    def holds(start: Gas, end: Gas, data: Data, loc: float) -> None:
        seen, _ = looked_up(start, end, data, loc)
        at, ratio = worst(line_of(start, end, data, loc))
        assert ratio[0] >= seen * (1 - ROUNDING)
        assert 0 <= at[0] <= 1

    holds()


@CASES
@given(gases(1), gases(1), limits(), st.floats(0.005, 0.2))
def test_one_fuel_is_the_mixture_at_the_place_named_and_no_more(
    start: Gas, end: Gas, data: tuple[float, float, float], loc: float
) -> None:
    line = line_of(start, end, [data], loc)
    at, ratio = worst(line)
    lean, inert, rich = (x[0] for x in ratios(line, at))
    # Where oxygen stays below a tenth of the limiting one, being rich as well is not asked for.
    assume(max(start[1], end[1]) >= 0.1 * loc)
    assert ratio[0] == pytest.approx(min(lean, inert, rich), rel=1e-12)
    seen, hidden = looked_up(start, end, [data], loc)
    # On top of the grid's step: the boundary may jump, and then the two sides differ by that jump.
    jump = 1 - data[2] <= 0.2095 * (1 - data[1])
    assert jump or ratio[0] <= seen + hidden + ROUNDING


#: Limits in air and in oxygen: Bulletin 627 and IEC 60079-20-1, from memory; shape, not data.
H2, CH4, CO, C2H4 = (0.04, 0.77, 0.95), (0.044, 0.17, 0.61), (0.109, 0.76, 0.94), (0.023, 0.36, 0.8)
AIR = 0.2095
PAIRS: dict[str, tuple[Gas, Gas, Data, float]] = {
    "hydrogen to air": ((1.0, 0.0, 0.0), (0.0, AIR, 1 - AIR), [H2], 0.0425),
    "diluted hydrogen to oxygen": ((0.3, 0.0, 0.7), (0.0, 1.0, 0.0), [H2], 0.0425),
    "pure methane to pure oxygen": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), [CH4], 0.10),
    "fuels that change on the way": (
        (0.3, 0.1, 0.0, 0.05, 0.55), (0.0, 0.0, 0.4, 0.3, 0.3), [CO, CH4, C2H4], 0.0425,
    ),
    "hot hydrogen whose boundary jumps": (
        (0.98, 0.0, 0.02), (0.7, 0.3, 0.0), [(0.03, 0.8, 0.99)], 0.03,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("start", "end", "data", "loc"), PAIRS.values(), ids=PAIRS.keys())
def test_named_lines_are_worst_where_looking_says(
    start: Gas, end: Gas, data: Data, loc: float
) -> None:
    seen, hidden = looked_up(start, end, data, loc)
    ratio = worst(line_of(start, end, data, loc))[1][0]
    assert seen * (1 - ROUNDING) <= ratio <= seen + hidden


def test_hydrogen_let_into_air_is_worst_where_two_boundaries_are_equally_far() -> None:
    # By hand: with x hydrogen the oxygen is 0.2095 (1 - x). x / 0.04 and oxygen / 0.0425 are
    # equal where x = 0.1647, at 4.117, and there 0.77 / x is 4.67: the oxygen decides on one
    # side, the fuel on the other, and the summit is that crossing.
    line = line_of((1.0, 0.0, 0.0), (0.0, AIR, 1 - AIR), [H2], 0.0425)
    at, ratio = worst(line)
    slope = AIR / 0.0425
    hydrogen = slope / (1 / 0.04 + slope)
    assert at[0] == pytest.approx(1 - hydrogen, rel=1e-12)
    assert ratio[0] == pytest.approx(hydrogen / 0.04, rel=1e-12)


@CASES
@given(
    gases(2), gases(2), st.lists(limits(), min_size=2, max_size=2),
    st.one_of(st.just(0.0), st.floats(0.005, 0.2)),
)  # fmt: skip
@example((1.0, 0.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0), [H2, CH4], 0.0425)
def test_ends_swapped_give_the_same(start: Gas, end: Gas, data: Data, loc: float) -> None:
    line = line_of(start, end, data, loc)
    one, other = worst(line)[1][0], worst(swapped(line))[1][0]
    assert one == pytest.approx(other, rel=ROUNDING)
    share = np.array([0.6])
    one = worst_allowance(line, 0.25, share)[1][0]
    assert one == pytest.approx(worst_allowance(swapped(line), 0.25, share)[1][0], rel=ROUNDING)


@CASES
@given(gases(2), st.lists(limits(), min_size=2, max_size=2), st.floats(0.005, 0.2))
def test_a_line_of_no_length_is_its_one_mixture(gas: Gas, data: Data, loc: float) -> None:
    lean, inert, rich = (float(x[0]) for x in grid_ratios(gas, gas, data, loc))
    # Where oxygen stays below a tenth of the limiting one, being rich as well is not asked for.
    assume(np.isfinite(min(lean, inert, rich)) and inert >= 0.1)
    line = line_of(gas, gas, data, loc)
    assert worst(line)[1][0] == pytest.approx(min(lean, inert, rich), rel=ROUNDING, abs=1e-12)
    used = worst_allowance(line, 0.25, np.array([0.6]))[1][0]
    assert used == pytest.approx(min(lean / 0.25, inert / 0.6), rel=ROUNDING, abs=1e-12)


@pytest.mark.parametrize(
    ("start", "end"),
    [
        ((1.0, 0.0, 0.0), (1.0, 0.0, 0.0)),
        ((0.0, 1.0, 0.0), (0.0, 1.0, 0.0)),
        ((0.0, 0.0, 1.0), (0.0, 0.0, 1.0)),
        ((1.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
        ((0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    ],
    ids=["fuel", "oxygen", "inert", "fuel to inert", "oxygen to inert"],
)
def test_fuel_or_oxygen_alone_is_never_inside(start: Gas, end: Gas) -> None:
    line = line_of(start, end, [H2], 0.0425)
    assert worst(line)[1][0] == 0
    assert worst_allowance(line, 0.25, np.array([0.4]))[1][0] == 0


def test_a_fuel_that_needs_no_oxygen_is_inside_on_its_own() -> None:
    line = line_of((1.0, 0.0, 0.0), (0.0, 0.0, 1.0), [(0.023, 0.8, 1.0)], 0.0)
    assert worst(line)[1][0] == pytest.approx(1 / 0.023)
    assert worst_allowance(line, 0.25, np.array([0.4]))[1][0] == pytest.approx(4 / 0.023)


UNKNOWN = ("lower", "upper", "upper_oxygen", "loc")


@CASES
@given(
    gases(2), gases(2), st.lists(limits(), min_size=2, max_size=2), st.floats(0.005, 0.2),
    st.sets(st.sampled_from(UNKNOWN), min_size=1),
)  # fmt: skip
@example((0.0, 0.0, AIR, 1 - AIR), (1.0, 0.0, 0.0, 0.0), [H2, H2], 0.0425, {"lower", "upper"})
@example((0.0, 0.0, AIR, 1 - AIR), (1.0, 0.0, 0.0, 0.0), [H2, H2], 0.0425, {"loc", "upper"})
def test_what_nobody_knows_keeps_nothing_out(
    start: Gas, end: Gas, data: Data, loc: float, lost: set[str]
) -> None:
    line = line_of(start, end, data, loc)
    blind = replace(line, **{name: np.full_like(getattr(line, name), np.nan) for name in lost})
    lean, inert, rich = grid_ratios(start, end, data, loc)
    kept = [np.where(lean > 0, np.inf, 0.0) if "lower" in lost else lean]
    kept += [np.where(inert > 0, np.inf, 0.0) if "loc" in lost else inert]
    if not lost & {"upper", "upper_oxygen"}:
        kept += [rich]
    elif "upper" not in lost:
        # Rich gas is kept out only beyond the limit in oxygen at its widest, which is 1.
        _, _, widest = grid_ratios(start, end, [(a, b, 1.0) for a, b, _ in data], loc)
        kept += [widest]
    known = float(np.min(kept, axis=0).max())
    ratio = worst(blind)[1][0]
    if known >= 1:
        assert not ratio < 1
    lean_side = np.where(lean > 0, np.inf, 0.0) if "lower" in lost else lean / 0.25
    inert_side = np.where(inert > 0, np.inf, 0.0) if "loc" in lost else inert / 0.6
    used = worst_allowance(blind, 0.25, np.array([0.6]))[1][0]
    if np.min([lean_side, inert_side], axis=0).max() >= 1:
        assert not used < 1


@pytest.mark.parametrize("fuels", [1, 2, 3])
def test_allowance_never_below_what_looking_finds(fuels: int) -> None:
    @CASES
    @given(
        gases(fuels), gases(fuels), st.lists(limits(), min_size=fuels, max_size=fuels),
        st.one_of(st.just(0.0), st.floats(0.005, 0.2)), st.floats(0.1, 1), st.floats(0.1, 1),
    )  # fmt: skip
    def holds(
        start: Gas, end: Gas, data: Data, loc: float, lean_share: float, inert_share: float
    ) -> None:
        lean, inert, _ = grid_ratios(start, end, data, loc)
        value = np.minimum(lean / lean_share, inert / inert_share)
        seen, near = float(value.max()), int(np.argmax(value))
        window = slice(max(near - 2, 0), near + 3)
        hidden = max(
            float(np.abs(np.diff(np.minimum(r[window], 1e9))).max())
            for r in (lean / lean_share, inert / inert_share)
        )
        at, used = worst_allowance(
            line_of(start, end, data, loc), lean_share, np.array([inert_share])
        )
        assert seen * (1 - ROUNDING) <= used[0] <= seen * (1 + ROUNDING) + hidden
        assert 0 <= at[0] <= 1

    holds()


def test_lines_do_not_touch_each_other() -> None:
    cases = [PAIRS[name] for name in ("hydrogen to air", "pure methane to pure oxygen")]
    alone = [worst(line_of(*case))[1][0] for case in cases]
    lines = [line_of(*case) for case in cases]
    together = Line(**{
        f.name: np.concatenate([getattr(x, f.name) for x in lines], axis=-1) for f in fields(Line)
    })  # fmt: skip
    assert worst(together)[1].tolist() == pytest.approx(alone, rel=1e-12)
