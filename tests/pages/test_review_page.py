"""The page of every demo in a real browser: phone, dark, paper, and for those who cannot see it."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from review import load
from review.render.html import to_html
from review.render.pictures import pictures
from review.render.telling import contents
from tests.support import DEMOS, SCENARIOS, demo_review, shared_engine


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name in DEMOS:
        review = demo_review(name)
        leading = [cause.leading for cause in review.causes]
        scenario = load(SCENARIOS / f"{name}.yaml")
        workings = shared_engine().workings(scenario, review, leading)
        found[name] = folder / f"{name}.html"
        drawn = pictures(review, shared_engine().played(scenario))
        found[name].write_text(to_html(review, workings, drawn), encoding="utf-8")
    return found


def test_every_page_fits_a_phone_asks_for_nothing_and_has_no_complaint(
    browser: Any, pages: dict[str, Path]
) -> None:
    for name, path in pages.items():
        browser.open(path.as_uri(), width=360)
        assert browser.overflow() <= 0, name
        browser.unfold()
        assert browser.overflow() <= 0, f"{name}, unfolded"
        shown = " ".join(browser.run("return document.body.innerText").split())
        assert re.search(r"\bnan\b|an unknown number", shown, re.IGNORECASE) is None, name
        said = contents(demo_review(name))
        told = [line.text for cause in said.causes for line in cause.lines]
        told += [act.text for act in said.acts] + [cause.headline for cause in said.causes]
        assert [text for text in told if " ".join(text.split()) not in shown] == [], name
        asked = {url for url in browser.requests() if not url.startswith("data:")}
        assert asked == {path.as_uri()}, name
        assert browser.complaints() == [], name


def test_axe_finds_nothing_serious_in_light_and_dark(browser: Any, pages: dict[str, Path]) -> None:
    """One demo of each verdict; the long lists at the end are made of the same tables."""
    by_verdict = {demo_review(name).verdict: name for name in pages}
    for n, name in enumerate(by_verdict.values()):
        browser.open(pages[name].as_uri(), width=(390, 1000)[n % 2], dark=n % 2 == 0)
        browser.run("document.querySelectorAll('main > details').forEach(d => d.remove())")
        browser.run("document.querySelectorAll('details > details').forEach(d => d.remove())")
        browser.run("document.querySelectorAll('details').forEach((d, n) => d.open = n < 2)")
        assert browser.violations() == [], name


@pytest.mark.parametrize("paper", [(8.27, 11.69), (8.5, 11.0)], ids=["A4", "Letter"])
def test_paper_cuts_no_table_and_shows_what_the_page_says(
    browser: Any, pages: dict[str, Path], tmp_path: Path, paper: tuple[float, float]
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    browser.open(pages["methanol_over_silver"].as_uri())
    browser.run("document.querySelector('.cause details').open = true")
    wide = browser.run(
        "return [...document.querySelectorAll('table')].map(t => t.scrollWidth - t.clientWidth)"
    )
    assert max(wide) <= 0
    file = tmp_path / "page.pdf"
    file.write_bytes(browser.pdf(paper))
    shown = subprocess.run(["pdftotext", "-layout", file, "-"], capture_output=True, text=True)
    text = " ".join(shown.stdout.split())
    # A row whose place is printed is printed to its last column.
    assert "MUST NOT PROCEED" in text and "authority having jurisdiction" in text
    sheets = shown.stdout.split("\f")
    headed = [s for s in sheets if re.search(r"What\s+Where\s+Grade\s+Value\s+Wanted\s+When", s)]
    assert len(headed) >= 2, "the head of a table is repeated on each sheet"
    boxes = subprocess.run(["pdftotext", "-bbox", file, "-"], capture_output=True, text=True)
    right = [float(x) for x in re.findall(r'xMax="([\d.]+)"', boxes.stdout)]
    assert max(right) <= paper[0] * 72 - 20
