"""Pictures: the numbers that are drawn are those of the measures, read back from the drawing.

A mark's place in the drawing is turned into a number between the ticks of its axes, whose labels
are read as a person would.
"""

from __future__ import annotations

import dataclasses
import math
import re
import subprocess
import sys
from bisect import bisect_right
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from review import Review, load
from review.cli import group
from review.explore.points import Turned
from review.render.html import to_html
from review.render.picture import Picture
from review.render.pictures import pictures, settings
from review.render.pictures.canvas import finished, sheet
from tests.html_reader import Reader
from tests.support import DEMOS, SCENARIOS, demo_review, shared_engine

ALL = {"train", "envelope", "room", "plug", "temperatures", "tube", "frame", "procedure"}


@cache
def drawn(name: str) -> dict[str, Picture]:
    setup = shared_engine().played(load(SCENARIOS / f"{name}.yaml"))
    return {picture.id: picture for picture in pictures(demo_review(name), setup)}


def ticks(picture: Picture, axis: str) -> list[tuple[float, float]]:
    """(place in the drawing, number at the tick), by number; of ticks that carry a number."""
    found = []
    for part in picture.svg.split(f'id="{picture.id}-{axis}tick_')[1:]:
        use = re.search(r'<use [^>]*x="([-\d.]+)" y="([-\d.]+)"', part)
        text = re.search(r"<text[^>]*>([^<]*)</text>", part)
        if use and text and re.fullmatch(r"[-−\d.e]+", text[1]):
            place = float(use[1] if axis == "x" else use[2])
            found.append((place, float(text[1].replace("−", "-"))))
    return sorted(found, key=lambda tick: tick[1])


def marks(picture: Picture, gid: str) -> list[tuple[float, float]]:
    """Where the marks of one series stand in the drawing."""
    part = picture.svg.split(f'id="{picture.id}-{gid}"')[1]
    part = part[: part.index("</g>\n  <g") if "</g>\n  <g" in part else len(part)]
    block = re.split(r'<g id="', part)[0]
    found = re.findall(r'<use [^>]*x="([-\d.]+)" y="([-\d.]+)"', block)
    return [(float(x), float(y)) for x, y in found]


def number(place: float, scale: list[tuple[float, float]], logarithmic: bool) -> float:
    """The number at a place, between (or beyond) two ticks."""
    values = [value for _, value in scale]
    down = scale[0][0] > scale[-1][0]
    places = [-p if down else p for p, _ in scale]
    n = min(max(bisect_right(places, -place if down else place), 1), len(scale) - 1)
    (p0, v0), (p1, v1) = scale[n - 1], scale[n]
    share = (place - p0) / (p1 - p0)
    if logarithmic and values[n - 1] > 0:
        return float(v0 * (v1 / v0) ** share)
    return float(v0 + share * (v1 - v0))


def planned(review: Review, kind: str, at: str) -> np.ndarray:
    return next(m.value[:, 0] for m in review.measures if (m.kind, m.at) == (kind, at))


def test_between_them_the_demos_show_every_picture() -> None:
    found = {id for name in DEMOS for id in drawn(name)}
    assert found == ALL


@pytest.mark.parametrize("name", ["methanol_over_silver", "copper_oxide_hydrogen_no_purge"])
def test_the_envelope_shows_the_measured_shares(name: str) -> None:
    review, picture = demo_review(name), drawn(name)["envelope"]
    across, up = ticks(picture, "x"), ticks(picture, "y")
    items = list(dict.fromkeys(row[0] for row in picture.rows))
    for n, item in enumerate(items):
        x = planned(review, "flammability.oxygen_to_limiting", item)
        y = planned(review, "flammability.fuel_to_lower_limit", item)
        places = marks(picture, f"points-{n}")
        assert len(places) == len(x)
        for (px, py), wx, wy in zip(places, x, y, strict=True):
            assert number(px, across, True) == pytest.approx(wx, rel=0.03, abs=0.004)
            assert number(py, up, True) == pytest.approx(wy, rel=0.03, abs=0.004)


def test_the_room_shows_the_measured_shares_and_the_limit() -> None:
    review, picture = demo_review("methanol_over_silver"), drawn("methanol_over_silver")["room"]
    up = ticks(picture, "y")
    measure = next(
        m for m in review.measures
        if (m.kind, m.at, m.of) == ("exposure.ceiling_ratio", "breathing zone", "formaldehyde")
    )  # fmt: skip
    finding = max(
        (f for f in review.findings if f.kind == measure.kind and f.of == "formaldehyde"),
        key=lambda f: f.value,
    )
    runs = [run.id for run in review.trials.runs]
    for n, column in enumerate((0, runs.index(finding.trial))):
        places = marks(picture, f"points-{n}")
        values = [v for v in measure.value[1:, column]]
        assert len(places) == len(values)
        for (_, py), wanted in zip(places, values, strict=True):
            assert number(py, up, True) == pytest.approx(wanted, rel=0.03, abs=4e-4)


@pytest.mark.parametrize("name", ["methanol_over_silver", "hydrogen_chloride_absorbed"])
def test_the_temperatures_are_the_hottest_of_the_plan(name: str) -> None:
    review, picture = demo_review(name), drawn(name)["temperatures"]
    up = ticks(picture, "y")
    items = [row[0] for row in picture.rows]
    for n, kind in enumerate(("train.gas_temperature_out", "train.wall_temperature_out")):
        places = marks(picture, f"points-{n}")
        assert len(places) == len(items)
        for (_, py), item in zip(places, items, strict=True):
            wanted = planned(review, kind, item).max() - 273.15
            assert number(py, up, False) == pytest.approx(wanted, abs=2.0)


@pytest.mark.parametrize(
    "name", ["methanol_over_silver", "water_distilled", "hydrogen_chloride_absorbed"]
)
def test_a_blockage_is_drawn_with_what_each_item_holds(name: str) -> None:
    review, picture = demo_review(name), drawn(name)["plug"]
    across = ticks(picture, "x")
    scenario = load(SCENARIOS / f"{name}.yaml")
    stated = {item.id: item.rating for item in scenario.train}
    runs = list(enumerate(review.trials.runs))
    blocked = [n for n, run in runs if run.id.startswith("blocked:")]
    failed = [n for n, run in runs if run.case == "upset"]
    for n, row in enumerate(picture.rows):
        measure = next(
            m for m in review.measures
            if (m.kind, m.at) == ("pressure.working_over_rating", row[0])
        )  # fmt: skip
        at = np.unravel_index(measure.value[:, failed].argmax(), measure.value[:, failed].shape)
        assert measure.compared is not None
        rise, edge = (
            v[:, failed][at] / 1e5 for v in (measure.compared.value, measure.compared.edge)
        )
        [(tick, _)] = marks(picture, f"holds-{n}")
        rated = stated[row[0]]
        if rated is not None:
            most = (rated - scenario.ambient.pressure) / 1e5  # its joint may hold less
            assert number(tick, across, True) <= 1.05 * most
        assert number(tick, across, True) == pytest.approx(edge, rel=0.05)
        # Nobody may read that more than it holds is fine.
        assert (rise > edge) <= (row[5] == "unacceptable")
        bar = picture.svg.split(f'id="{picture.id}-bar-{n}"')[1].split("</g>")[0]
        corners = [float(x) for x, _ in re.findall(r"[ML] ([\d.]+) ([\d.]+)", bar)]
        assert number(max(corners), across, True) == pytest.approx(rise, rel=0.05)
        share = measure.value[:, blocked]
        worst = np.unravel_index(share.argmax(), share.shape)
        [(spot, _)] = marks(picture, f"plugged-{n}")
        plugged = measure.compared.value[:, blocked][worst] / 1e5
        assert number(spot, across, True) == pytest.approx(plugged, rel=0.05)


def test_along_the_tube_stand_its_ends_its_heat_and_what_its_joints_bear() -> None:
    name = "methanol_over_silver"
    review, picture = demo_review(name), drawn(name)["tube"]
    up, across = ticks(picture, "y"), ticks(picture, "x")
    tube = next(item for item in load(SCENARIOS / f"{name}.yaml").train if item.id == "tube")
    assert tube.length and tube.heated_length
    spots = marks(picture, "points")
    edges = [0, (tube.length - tube.heated_length) / 2, (tube.length + tube.heated_length) / 2,
             tube.length]  # fmt: skip
    for (px, _), wanted in zip(spots, edges, strict=True):
        assert number(px, across, False) == pytest.approx(1e3 * wanted, abs=3)
    heat = planned(review, "heat.outer_surface", "tube").max() - 273.15
    for _, py in spots[1:3]:
        assert number(py, up, False) == pytest.approx(heat, abs=4)
    for _, py in marks(picture, "bears-0"):
        assert number(py, up, False) == pytest.approx(260, abs=4)  # PTFE, from its data file


def test_the_frame_shows_its_centre_of_mass() -> None:
    picture = drawn("bare_frame")["frame"]
    (px, py), (_, high) = marks(picture, "centre-above")[0], marks(picture, "centre-side")[0]
    scenario = load(SCENARIOS / "bare_frame.yaml")
    assert scenario.frame is not None
    masses = scenario.frame.masses.values()
    weight = sum(m.mass for m in masses)
    x, y, z = (sum(m.mass * getattr(m, a) for m in masses) / weight for a in ("x", "y", "height"))
    first = picture.svg.split('id="frame-axes_2"')[0]
    above = dataclasses.replace(picture, svg=type(picture.svg)(first))
    assert number(px, ticks(above, "x"), False) == pytest.approx(1e3 * x, abs=3)
    assert number(py, ticks(above, "y"), False) == pytest.approx(1e3 * y, abs=3)
    second = dataclasses.replace(picture, svg=type(picture.svg)(picture.svg[len(first) :]))
    assert number(high, ticks(second, "y"), False) == pytest.approx(1e3 * z, abs=3)


def test_what_is_not_known_says_so_and_is_never_a_zero() -> None:
    name = "methanol_over_silver"
    review = demo_review(name)
    setup = shared_engine().played(load(SCENARIOS / f"{name}.yaml"))

    def lost(m):  # type: ignore[no-untyped-def]
        if m.at != "trap" or not m.kind.startswith(("train.", "flammability.", "pressure.")):
            return m
        return dataclasses.replace(
            m, value=np.full(m.value.shape, math.nan), status=np.full(m.value.shape, 3, np.uint8)
        )

    known = dataclasses.replace(review, measures=tuple(map(lost, review.measures)))
    for picture in pictures(known, setup):
        for row in picture.rows:
            if row[0] == "trap" and picture.id in ("train", "temperatures", "envelope"):
                assert "not known" in row and "0" not in row
        if picture.id == "train":
            assert "not known" in picture.svg
        if picture.id == "plug":
            assert next(row for row in picture.rows if row[0] == "trap")[3] == "not known"
            assert "Not known at" in picture.says and "not known" in picture.svg
        if picture.id == "temperatures":
            items = [row[0] for row in picture.rows]
            assert len(marks(picture, "points-0")) == len(items) - 1
            assert "not known" in picture.svg


def test_a_picture_is_drawn_only_where_its_check_ran() -> None:
    name = "methanol_over_silver"
    setup = shared_engine().played(load(SCENARIOS / f"{name}.yaml"))
    review = demo_review(name)
    kept = tuple(m for m in review.measures if not m.kind.startswith("flammability."))
    found = {p.id for p in pictures(dataclasses.replace(review, measures=kept), setup)}
    assert "envelope" in drawn(name) and "envelope" not in found and "train" in found


@pytest.mark.parametrize("name", ["methanol_over_silver", "bare_frame"])
def test_on_the_page_each_has_its_sentence_and_numbers_and_fetches_nothing(name: str) -> None:
    source = to_html(demo_review(name), pictures=tuple(drawn(name).values()))
    page = Reader(source)
    assert page.elements["svg"] == page.elements["figcaption"] == len(drawn(name))
    assert "http" not in source and "<image" not in source
    ids = re.findall(r'\bid="([^"]+)"', source)
    assert len(ids) == len(set(ids))
    for picture in drawn(name).values():
        assert 'role="img" aria-label="' in picture.svg
        assert picture.says.rstrip().endswith(".") and len(picture.rows) > 0
        assert {len(row) for row in picture.rows} == {len(picture.heads)}


def test_a_hostile_text_is_drawn_as_text() -> None:
    """Names in a file hold no such characters; titles, labels and what a plugin names may."""
    hostile = "<script>alert(1)</script> $\\frac{1}$ & <img src=x>"
    with sheet(1.0) as figure:
        figure.add_subplot().set_title(hostile)
    picture = finished(figure, "odd", f'"{hostile}', hostile, ("What",), ((hostile,),))
    assert "&lt;script&gt;" in picture.svg and "$\\frac" in picture.svg
    assert "<script" not in picture.svg and "<img" not in picture.svg
    page = Reader(to_html(demo_review("nitrogen_dried"), pictures=(picture,)))
    assert not page.elements.keys() & {"script", "img"} and page.text.count("<script>") >= 3


def test_other_outputs_do_not_load_the_drawing_library() -> None:
    code = (
        "import sys, review.render.html, review.render.markdown, review.render.sarif\n"
        "sys.exit('matplotlib' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code]).returncode == 0


def turned(path: str, value: float, low: float, high: float) -> Turned:
    return Turned(path, "mm", value, low, high, lambda data, value: None)


def test_a_map_shows_each_setting_by_its_mark_and_a_range_its_ends() -> None:
    first, second = turned("a", 30, 0, 100), turned("b", 5, 0, 10)
    spots = [
        (0.0, 0.0, "may proceed", True), (50.0, 5.0, "may proceed with conditions", True),
        (100.0, 10.0, "must not proceed", True), (100.0, 5.0, "must not proceed", False),
    ]  # fmt: skip
    picture = settings.over(first, second, spots, "may proceed", (0.0, 50.0, 0.0, 5.0))
    across, up = ticks(picture, "x"), ticks(picture, "y")
    for n, (x, y) in ((0, (0, 0)), (1, (50, 5)), (3, (100, 10))):
        [(px, py)] = marks(picture, f"points-{n}")
        assert number(px, across, False) == pytest.approx(x, abs=1)
        assert number(py, up, False) == pytest.approx(y, abs=0.1)
    assert len(picture.rows) == 3 and "dashed" in picture.says
    parts = [(0.0, 40.0, "may proceed"), (41.0, 100.0, "cannot be judged")]
    line = settings.along(first, parts, "may proceed")
    [(px, _)] = marks(line, "plan")
    assert number(px, ticks(line, "x"), False) == pytest.approx(30, abs=1)
    assert [row[2] for row in line.rows] == ["may proceed", "cannot be judged"]


def test_a_range_is_written_as_one_page(tmp_path: Path) -> None:
    out, file = tmp_path / "range.html", SCENARIOS / "bare_frame.yaml"
    done = CliRunner().invoke(
        group, ["range", str(file), "frame.push_height", "--format", "html", "--out", str(out)]
    )
    assert done.exit_code == 0, done.output
    page = Reader(out.read_text("utf-8"))
    assert page.elements["svg"] == 1 and not page.elements.keys() & {"script", "img", "a"}
    assert "may proceed with conditions" in page.text and "authority having" in page.text
