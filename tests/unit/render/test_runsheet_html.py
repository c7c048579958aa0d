"""The page as HTML, read by the standard library's parser: whole, alone and harmless."""

from __future__ import annotations

import dataclasses

from review.render.runsheet import NOT_SIGNED_OFF, Condition, RunSheet, SignOff
from review.render.runsheet_html import to_html
from tests.html_reader import HOSTILE, Reader


def test_every_demo_is_one_whole_document_that_fetches_nothing(
    demo_sheets: dict[str, RunSheet],
) -> None:
    for name, sheet in demo_sheets.items():
        source = to_html(sheet)
        page = Reader(source)
        assert source.startswith("<!DOCTYPE html>\n<html lang="), name
        assert page.elements["html"] == page.elements["body"] == page.elements["h1"] == 1, name
        assert not page.elements.keys() & {"script", "img", "link", "iframe", "object", "a", "form"}
        assert not {a for _, a in page.attributes} & {"src", "href", "onload", "data", "action"}
        assert "url(" not in source and "@import" not in source and "http" not in source
        assert "size: A4" in source


def test_what_the_page_holds_and_how_much_of_it(demo_sheets: dict[str, RunSheet]) -> None:
    """What prints on two sheets of A4 is tried with a browser by hand; here it is bounded."""
    for name, sheet in demo_sheets.items():
        page = Reader(to_html(sheet))
        assert len(page.text) < 14_000, name
        # A box for what is at hand, one for each condition and one for each step.
        boxes = to_html(sheet).count('class="box"')
        assert boxes == 1 + len(sheet.conditions) + len(sheet.steps), name
        for said in (*sheet.cautions, sheet.scenario_sha256, sheet.verdict, *sheet.always):
            assert " ".join(said.split()) in page.text, (name, said)
        for step in sheet.steps:
            assert step.hold in page.text and step.planned in page.text, name
        for failure in sheet.failures:
            assert failure.sign in page.text and failure.response in page.text, name
            assert failure.what in page.text and failure.leads_to in page.text, name


def test_every_row_of_a_table_is_as_wide_as_the_others(demo_sheets: dict[str, RunSheet]) -> None:
    for sheet in demo_sheets.values():
        for table in to_html(sheet).split("<table")[1:]:
            rows = Reader(f"<table{table.split('</table>')[0]}</table>").rows
            assert len(set(rows)) == 1, table


def test_a_page_that_nobody_signed_says_so_in_large_words(demo_sheets: dict[str, RunSheet]) -> None:
    source = to_html(demo_sheets["water_distilled"])
    assert f'<p class="unsigned">{NOT_SIGNED_OFF}</p>' in source
    assert ".unsigned { font-size: 22pt" in source
    assert "Preparer" in Reader(source).text and "Signature" in Reader(source).text


def test_a_signed_page_counts_runs_and_carries_the_hash(demo_sheets: dict[str, RunSheet]) -> None:
    digest = "0123456789abcdef" * 4
    signed = SignOff(7, digest, "2031-05-06 07:08 UTC", "2031-06-01", 3, "technician", "teacher")
    text = Reader(to_html(dataclasses.replace(demo_sheets["water_distilled"], signed=signed))).text
    assert NOT_SIGNED_OFF not in text
    assert "of 3 allowed" in text and "holds until 2031-06-01" in text
    assert digest in text and "01234567 89abcdef 01234567" in text


def test_hostile_texts_are_text(demo_sheets: dict[str, RunSheet]) -> None:
    plain = Reader(to_html(demo_sheets["nitrogen_dried"]))
    sheet = dataclasses.replace(
        demo_sheets["nitrogen_dried"],
        title=HOSTILE,
        purpose=HOSTILE,
        contacts=(HOSTILE,),
        conditions=(Condition(HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
    )
    page = Reader(to_html(sheet))
    added = page.elements - plain.elements
    assert set(added) <= {"li", "strong", "span", "em"}
    assert page.attributes == plain.attributes
    # In the head and in the heading; purpose, contact and the four texts of the condition.
    assert page.text.count(HOSTILE) == 8
