"""Run sheets of all demos on paper: two pages of A4 in letters of 10 pt."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from review import load
from review.render.runsheet import run_sheet
from review.render.runsheet_html import to_html
from tests.pages.conftest import CHROMIUM
from tests.support import demo_review

DEMOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.yaml"))
_PAGE = re.compile(rb"/Type\s*/Page\b")


@pytest.mark.skipif(CHROMIUM is None, reason="no browser here")
@pytest.mark.parametrize("demo", DEMOS, ids=lambda path: path.stem)
def test_a_run_sheet_takes_two_pages(demo: Path, tmp_path: Path) -> None:
    review = demo_review(demo.stem)
    if review.verdict in ("must not proceed", "cannot be judged"):
        pytest.skip("there is no run sheet of this")
    page, paper = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    page.write_text(to_html(run_sheet(review, load(demo), None, "2031-05-06")), "utf-8")
    assert "font: 10pt" in page.read_text("utf-8")
    subprocess.run(
        [str(CHROMIUM), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
         f"--user-data-dir={tmp_path / 'profile'}", f"--print-to-pdf={paper}", page.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    assert 1 <= len(_PAGE.findall(paper.read_bytes())) <= 2
