"""The page of an audit: who answers for what, what is signed, and what one change would clear."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from review.audit.page import to_html
from review.audit.select import choose
from tests.html_reader import HOSTILE, Reader

TODAY = date(2031, 5, 6)
Page = Callable[..., str]


@pytest.fixture
def page(invented: Any, tmp_path: Path) -> Page:
    def written(*rows: Any, **told: Any) -> str:
        with invented.read(*rows) as store:
            selection = choose(store, None, invented.kinds)
            return to_html(store, invented.kinds, selection, TODAY, beside=tmp_path, **told)

    return written


def section(source: str, title: str) -> str:
    return source.split(f"<h2>{title}</h2>")[1].split("<h2>")[0]


def test_it_is_one_whole_document_that_fetches_nothing(page: Page, invented: Any) -> None:
    source = page(invented.row("a.yaml"))
    text = Reader(source).text
    assert source.lstrip().startswith("<!DOCTYPE html>") and "http" not in source
    assert "Audit of 1 set-up" in text and "authority having jurisdiction" in text


def test_what_may_proceed_and_is_signed_by_nobody_as_it_stands_is_listed(
    page: Page, invented: Any
) -> None:
    same = invented.row("b.yaml").scenario_sha256
    rows = [
        invented.row("a.yaml"),
        invented.row("b.yaml"),
        invented.row("c.yaml", [invented.finding(grade="unacceptable")]),
        invented.record("b.json", [invented.finding()], scenario_sha256=same),
    ]
    told = section(page(*rows), "May proceed, and nobody signed it as it stands")
    assert "a.yaml" in told and "b.yaml" not in told and "c.yaml" not in told


def test_a_sign_off_that_ends_soon_is_listed_and_an_expired_one_says_so(
    page: Page, invented: Any
) -> None:
    rows = [
        invented.record("soon.json", [invented.finding()], valid_until="2031-05-20"),
        invented.record("late.json", [invented.finding()], valid_until="2031-12-31"),
        invented.record("past.json", [invented.finding()], valid_until="2031-05-05"),
    ]
    source = page(*rows)
    told = section(source, "Signed, and ending within 30 days")
    assert "soon.json" in told and "late.json" not in told and "past.json" not in told
    assert "2031-05-05 (expired)" in source


def test_what_one_change_would_clear_is_counted(page: Page, invented: Any) -> None:
    bad, open_ = {"grade": "unacceptable"}, {"grade": "undetermined"}
    rows = [
        invented.row("a.yaml", [invented.finding("demo.one", **bad)]),
        invented.row("b.yaml", [invented.finding("demo.one", **bad, at="hose"),
                                invented.finding("demo.one", **open_)]),
        invented.row("c.yaml", [invented.finding("demo.one", **bad),
                                invented.finding("demo.two", **open_)]),
        invented.row("d.yaml", [invented.finding("demo.two", **open_, blocks=0)]),
    ]  # fmt: skip
    told = section(page(*rows), "What one change would clear").split("</table>")[0]
    rows_told = [re.sub(r"<[^>]+>", " ", row).split() for row in told.split("<tr")[2:]]
    assert [row[-2:] for row in rows_told if row] == [["3", "2"], ["1", "0"]]


def test_owners_folders_cylinders_and_links_come_from_the_files(
    page: Page, invented: Any, tmp_path: Path
) -> None:
    room = tmp_path / "room 1"
    room.mkdir()
    file = room / "a.yaml"
    file.write_text(
        "title: A\nprepared_by: the <b>teacher</b>\nreagents:\n"
        "  argon: {held: {as: cylinder}}\n  water: {held: {as: bottle}}\n"
    )
    (room / "a.html").write_text("<p>its page</p>")
    source = page(invented.row(str(file)), invented.row("gone.yaml"))
    assert "the &lt;b&gt;teacher&lt;/b&gt;" in source and "not stated" in source
    assert 'href="room%201/a.html"' in source
    assert source.count("<a href") == 2  # in the list, and among those that nobody signed
    (cells,) = re.findall(r">([^<]*room 1)</th>\s*<td[^>]*>(\d+)</td>\s*<td[^>]*>([^<]*)<", source)
    assert cells[1:] == ("1", "argon")


def test_the_order_of_the_list_can_be_chosen_without_a_script(page: Page, invented: Any) -> None:
    rows = [
        invented.row("a.yaml"),
        invented.row("b.yaml", [invented.finding(grade="unacceptable")]),
        invented.record("c.json", [invented.finding()]),
    ]
    source = page(*rows)
    found = {
        name: re.findall(r"--[abcd]: (\d+)", source.split(f">{name}<")[0].rsplit("style=", 1)[1])
        for name in ("a.yaml", "b.yaml", "c.json")
    }
    assert found["b.yaml"][0] == "0"  # the gravest first by verdict
    assert [found[name][1] for name in ("a.yaml", "b.yaml", "c.json")] == ["0", "1", "2"]
    assert found["c.json"][3] == "0"  # the only one with a last day
    assert "<script" not in source and source.count('type="radio"') == 4


def test_hostile_titles_and_paths_are_text(page: Page, invented: Any) -> None:
    source = page(invented.row(f"{HOSTILE}.yaml", title=HOSTILE))
    assert not Reader(source).elements.keys() & {"script", "img", "a"}
