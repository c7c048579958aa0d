"""Many settings in one batch say what a review of each changed file says."""

from __future__ import annotations

import random
from importlib.resources import files

import pytest

from review import Engine, Review, Scenario, loads
from review.explore import batched
from review.explore.batched import Batched, over_batch
from review.explore.points import Point, Points, plain, turned
from review.explore.two import FINE
from tests.support import shared_engine

DEMOS = files("review.scenarios")
FORMING = (DEMOS / "copper_oxide_forming_gas.yaml").read_text("utf-8")
BARE = (DEMOS / "bare_frame.yaml").read_text("utf-8")
PUSH = ("frame.push_height=300..1500", "frame.clamps.flask clamp.reach=100..300")
PURGE = ("flows.argon.rate=100..600", "procedure.purge.duration=5..30")


@pytest.fixture(scope="module")
def engine() -> Engine:
    return shared_engine()


def points_of(engine: Engine, text: str, *paths: str) -> Points:
    chosen = [turned(loads(text), plain(text, "file"), path) for path in paths]

    def review(changed: Scenario) -> Review:
        return engine.review(changed, upsets=False)

    return Points(text, "file", chosen, review)


def told(point: Point) -> tuple[str, set[tuple[str, str, str]]]:
    return point.verdict, {blocker.same for blocker in point.blockers}


@pytest.mark.parametrize(
    ("text", "paths"),
    [
        (FORMING, PURGE),
        (FORMING, ("ratio of argon to forming gas", "heat.furnace.set_temperature=100..315")),
        (BARE, PUSH),
    ],
)
def test_a_batch_says_what_reviews_say(engine: Engine, text: str, paths: tuple[str, ...]) -> None:
    points = points_of(engine, text, *paths)
    batch = Batched.of(points, engine, "file")
    assert batch is not None
    numbers = random.Random(19)
    spots = [tuple(numbers.uniform(t.low, t.high) for t in points.turned) for _ in range(3)]
    for spot, quick in zip(spots, batch.several(spots), strict=True):
        assert told(quick) == told(points.at(*spot)), spot


def test_the_map_of_a_batch_against_brute_force(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Along every eighth line each point of the map, and both sides of each boundary."""
    monkeypatch.setattr(batched, "COARSE", 11)
    monkeypatch.setattr(batched, "QUARTERED", 2)
    points = points_of(engine, BARE, *PUSH)
    found = over_batch(points, engine, "file")
    batch = Batched.of(points, engine, "file")
    assert found is not None and batch is not None and found.whole
    assert len(found.across) == len(found.up) == 41
    for j in range(0, 41, 8):
        line = batch.several([(x, found.up[j]) for x in found.across])
        assert [p.verdict for p in line] == [p.verdict for p in found.rows[j] if p is not None]
    assert found.edges
    ranges = [t.high - t.low for t in points.turned]
    for one, other in found.edges:
        away = [abs(b - a) / r for a, b, r in zip(one.values, other.values, ranges, strict=True)]
        assert one.verdict != other.verdict and max(away) <= FINE * (1 + 1e-6)
    assert found.batch < 41 * 41 / 3 and found.reviewed < 40


def test_what_is_more_than_numbers_is_not_batched(engine: Engine) -> None:
    wish = FORMING + "intent: {contact_time: {at: tube, least: 1 s, most: 20 s}}\n"
    assert over_batch(points_of(engine, wish, *PURGE), engine, "file") is None


def test_what_no_file_may_hold_bounds_a_batch(engine: Engine) -> None:
    """Above what the flow can deliver, 2 L/min, and above the hottest that is stated, 315 degC."""
    paths = ("flows.argon.rate=100..4000", "heat.furnace.set_temperature=100..700")
    points = points_of(engine, FORMING, *paths)
    batch = Batched.of(points, engine, "file")
    assert batch is not None and batch.corners()[-1] == (2000.0, 315.0)
    spots = [(2000.0, 315.0), (2000.1, 300.0), (500.0, 315.1), (3000.0, 600.0)]
    for spot, quick in zip(spots, batch.several(spots), strict=True):
        assert told(quick) == told(points.at(*spot)), spot
    # A flow that never may be what is looked at has no batch.
    never = points_of(engine, FORMING, "flows.argon.rate=3000..4000", PURGE[1])
    assert Batched.of(never, engine, "file") is None


def test_a_batch_that_reviews_gainsay_is_not_used(
    engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = points_of(engine, BARE, *PUSH)
    monkeypatch.setattr(engine, "graded", lambda scenario, runs: [])
    assert over_batch(points, engine, "file") is None
