"""The page of an audit in a real browser, which sorts its list without a script."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from review.audit.files import find
from review.audit.page import to_html
from review.audit.processes import Here
from review.audit.progress import Progress
from review.audit.recipe import Recipe
from review.audit.run import Audit
from review.audit.select import choose
from review.audit.store import opened
from review.audit.work import Desk
from tests.support import SCENARIOS


def test_it_fits_a_phone_sorts_and_has_no_complaint(browser: Any, tmp_path: Path) -> None:
    names = ("nitrogen_dried", "bare_frame", "water_warmed_in_a_bath")
    folder = tmp_path / "room"
    folder.mkdir()
    for name in names:
        (folder / f"{name}.yaml").write_text((SCENARIOS / f"{name}.yaml").read_text("utf-8"))
    desk = Desk(Recipe((), ()))
    finds = find([folder])
    with opened(tmp_path / "audit.sqlite") as store:
        with Progress(quiet=True) as progress:
            Audit(store, desk, Here(desk), progress).run(finds)
        selection = choose(store.connection, None, desk.engine.kinds)
        page = to_html(store.connection, desk.engine.kinds, selection, date(2031, 5, 6))
    file = tmp_path / "audit.html"
    file.write_text(page, encoding="utf-8")
    browser.open(file.as_uri(), width=390)
    assert browser.overflow() <= 0 and browser.complaints() == []
    assert {url for url in browser.requests() if not url.startswith("data:")} == {file.as_uri()}
    assert browser.violations() == []
    browser.open(file.as_uri())
    seen = (
        "return [...document.querySelectorAll('.row:not(.head)')]"
        ".sort((a, b) => a.getBoundingClientRect().top - b.getBoundingClientRect().top)"
        ".map(row => row.querySelector('.soft').textContent.split('/').pop())"
    )
    by_verdict = browser.run(seen)
    browser.run("document.getElementById('by-file').click()")
    by_file = browser.run(seen)
    assert by_file == sorted(f"{name}.yaml" for name in names)
    assert sorted(by_verdict) == by_file
