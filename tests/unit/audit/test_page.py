"""The page of an audit: who answers for what, what is signed, and what one change would clear."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from review.audit.page import to_html
from review.audit.select import choose
from review.register.chain import Register
from review.register.entries import entry
from tests.html_reader import HOSTILE, Reader
from tests.support import record_body

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
    """What stands under a heading or in a fold of this name."""
    until = "(?=</details>|<h2>|<p>[^<]*: none)"
    found = re.search(rf"<(h2|summary)>{title}[:<].*?{until}", source, re.S)
    return found[0] if found else ""


def test_it_is_one_whole_document_that_fetches_nothing(page: Page, invented: Any) -> None:
    source = page(invented.row("a.yaml"))
    text = Reader(source).text
    assert source.lstrip().startswith("<!DOCTYPE html>") and "http" not in source
    assert "Audit of 1 set-up" in text and "authority having jurisdiction" in text


@pytest.fixture
def register(tmp_path: Path) -> Register:
    """Six sign-offs of set-ups a to f: in use, awaited, withdrawn, run, alone, soon over."""
    found = Register(tmp_path / "register")
    second: dict[str, dict[str, Any]] = {
        "b": {"second": "later", "reviewer": ""}, "e": {"second": "nobody", "reviewer": ""},
        "f": {"valid_until": "2031-05-20"},
    }  # fmt: skip
    for name in "abcdef":
        told: dict[str, Any] = {"runs": 1, "valid_until": "2031-08-06"} | second.get(name, {})
        found.add(record_body(f"title: {name}\nroom: preparation room\n", **told))
    records, at = found.records(), datetime(2031, 5, 6, 8, tzinfo=UTC)
    found.add(entry("withdrawal", records[2], at, by="teacher", reason="it was rebuilt"))
    found.add(entry("run", records[3], at, by="teacher", noted="as planned", incident="",
                    nevertheless=[], log=None))  # fmt: skip
    return found


def listed(register: Register, invented: Any) -> list[Any]:
    """The rows that an audit has of it, beside the files that were signed."""
    rows = []
    for n, record in enumerate(register.records(), 1):
        text = {"scenario_sha256": record.data["scenario"]["sha256"]}
        until = {"valid_until": str(record.valid_until)}
        path = str(register.path(n))
        rows.append(invented.record(path, [invented.finding()], title="", **text, **until))
        rows.append(invented.row(f"{'abcdef'[n - 1]}.yaml", **text))
    return rows


def test_what_became_of_a_sign_off_stands_beside_it(
    page: Page, invented: Any, register: Register
) -> None:
    refused = invented.row("g.yaml", [invented.finding(grade="unacceptable")])
    source = page(*listed(register, invented), refused)
    waiting = section(source, "Awaiting a second person")
    assert "000002.json" in waiting and waiting.count("<li>") == 1
    gone = section(source, "Not to be run on their sign-off")
    assert gone.count("<li>") == 3
    for name, why in (
        ("000003", "the record was withdrawn: it was rebuilt"),
        ("000004", "its 1 run is used up"), ("000005", "one person signed it"),
    ):  # fmt: skip
        assert re.search(rf"{name}\.json.*{why}", gone), why
    soon = section(source, "Signed, and ending within 30 days")
    assert "000006.json" in soon and soon.count("<li>") == 1
    unsigned = section(source, "May proceed, and nobody signed it as it stands")
    assert re.findall(r"(\w)\.yaml<|\((\w)\.yaml", unsigned) == [("", n) for n in "cde"]
    assert "preparation room" in section(source, "By room and owner")


def test_a_register_that_is_not_in_order_is_told_and_nothing_in_it_counts(
    page: Page, invented: Any, register: Register
) -> None:
    rows = listed(register, invented)
    register.path(7).unlink()
    source = page(*rows)
    assert "is not in order" in source.split("<h2>Sign-offs</h2>")[1].split("<details")[0]
    assert section(source, "May proceed, and nobody signed it as it stands").count("<li>") == 6
    apart = page(invented.record("000001.json", [invented.finding()]))
    assert "only its register tells" in section(apart, "Not to be run on their sign-off")


def test_an_expired_sign_off_says_so(page: Page, invented: Any) -> None:
    source = page(invented.record("a.json", [invented.finding()], valid_until="2031-05-05"))
    assert "2031-05-05 (expired)" in source


def test_verdicts_are_remembered_from_audit_to_audit(page: Page, invented: Any) -> None:
    bad = [invented.finding(grade="unacceptable")]
    rows = [
        invented.row("a.yaml", reviewed_at="2031-01-02T00:00:00+00:00"),
        invented.row("a.yaml", reviewed_at="2031-02-02T00:00:00+00:00"),
        invented.row("b.yaml"),
        invented.row("a.yaml", bad, reviewed_at="2031-03-04T00:00:00+00:00"),
    ]
    told = section(page(*rows), "Verdicts that changed from audit to audit")
    assert "2031-01-02 may proceed; 2031-03-04 must not proceed" in told
    assert "b.yaml" not in told and "2031-02-02" not in told


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
