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
from review.audit.store import Row, opened
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


def test_three_hundred_set_ups_fit_three_screens(browser: Any, tmp_path: Path) -> None:
    """With owners, rooms and cylinders; the list is folded, and what needs somebody is not."""
    grades = ("acceptable", "acceptable", "tolerable", "unacceptable", "undetermined")
    kinds = Desk(Recipe((), ())).engine.kinds
    with opened(tmp_path / "audit.sqlite") as store:
        store.put_ruleset("r", "{}", {})
        for n in range(300):
            file = tmp_path / f"{n:03}.yaml"
            file.write_text(
                f"title: Set-up {n}\nprepared_by: teacher {n % 9}\nroom: room {n % 12}\n"
                f"reagents: {{gas {n % 5}: {{held: {{as: cylinder}}}}}}\n"
            )
            grade = grades[n % 5]
            word = {"acceptable": "may proceed", "tolerable": "may proceed with conditions",
                    "unacceptable": "must not proceed"}.get(grade, "cannot be judged")  # fmt: skip
            finding = (
                f"invented.{n % 7}", f"Rule {n % 7}", "", "tube", "", grade, "ok", "plan", "plan",
                "", None, "", None, "Change it.", "", 1, None, None,
            )  # fmt: skip
            row = Row(
                str(file), "scenario", "reviewed", "r", "c", "[]", "2031-05-06T07:08:09Z", 0.1,
                title=f"Set-up {n}", verdict=word, scenario_sha256=str(n), findings=(finding,),
            )  # fmt: skip
            store.put(row)
            store.see(row.path)
        selection = choose(store.connection, None, kinds)
        page = to_html(store.connection, kinds, selection, date(2031, 5, 6))
    file = tmp_path / "audit.html"
    file.write_text(page, encoding="utf-8")
    high = "return document.documentElement.scrollHeight"
    browser.open(file.as_uri(), width=1280)
    assert browser.run(high) <= 3 * 844
    shown = browser.run("return document.body.innerText")
    assert "Audit of 300 set-ups" in shown and "authority having jurisdiction" in shown
    browser.open(file.as_uri(), width=390)
    assert browser.run(high) <= 3 * 844
    assert browser.overflow() <= 0
