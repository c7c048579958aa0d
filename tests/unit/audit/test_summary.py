"""The page an audit ends with."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from review.audit.compare import CHANGES, TABLES, Compared
from review.audit.figures import Counts, count, worst_findings
from review.audit.select import choose, selecting
from review.audit.summary import draw_summary
from review.cautions import CAUTIONS, DEFERS

TODAY = date(2031, 5, 6)
Page = Callable[..., str]


@pytest.fixture
def page(invented: Any) -> Page:
    """The summary of some rows as text."""

    def drawn(*rows: Any, select: str = "", width: int = 80, **told: Any) -> str:
        with invented.read(*rows) as store:
            condition = selecting(select, invented.kinds) if select else None
            selection = choose(store, condition, invented.kinds)
            console, text = invented.console(width)
            draw_summary(store, console, invented.kinds, selection, TODAY, **told)
        return text.getvalue()

    return drawn


def flat(text: str) -> str:
    return " ".join(text.split())


def headings(text: str) -> list[str]:
    """Lines that follow a blank one."""
    return [line for before, line in zip(*(text.splitlines()[n:] for n in (0, 1)), strict=False)
            if not before]  # fmt: skip


def test_without_set_ups_it_says_so_and_defers(page: Page) -> None:
    text = page()
    assert text.startswith("Audit of 0 set-ups\n")
    assert "no set-up was looked at" in text
    assert flat(text).endswith(DEFERS)


def test_it_always_says_what_a_verdict_means_and_defers(page: Page, invented: Any) -> None:
    for rows in ([invented.row("a.yaml")], [invented.row("a.yaml", state="error", error="no")]):
        for quiet in (False, True):
            assert flat(page(*rows, quiet=quiet)).endswith(f"{CAUTIONS[1]} {DEFERS}")


def test_counts(invented: Any) -> None:
    bad, good = invented.finding(grade="unacceptable"), invented.finding()
    condition = invented.finding("b.rule", "tolerable")
    unknown = invented.finding("c.rule", "undetermined", None)
    past = {"valid_until": "2031-05-05"}
    rows = [
        invented.row("a.yaml", [bad], [invented.upset("x", "unacceptable")]),
        invented.row("b.yaml", [condition], [invented.upset("x", "undetermined")]),
        invented.row("c.yaml", [good]),
        invented.row("d.yaml", state="error", error="no"),
        invented.row("e.json", state="skipped", source="other"),
        invented.record("r1.json", [good], valid_until="2031-05-06"),
        invented.record("r2.json", [condition]),
        invented.record("r3.json", [bad]),
        invented.record("r4.json", [unknown]),
        invented.record("r5.json", [unknown], signed_verdict="cannot be judged"),
        invented.record("r6.json", [], state="error", error="no"),
        invented.record("r7.json", [bad], **past),
        invented.record("r8.json", [good], **past),
        invented.record("r9.json", [condition], **past),
    ]
    with invented.read(*rows) as store:
        choose(store, None, invented.kinds)
        told = count(store, TODAY)
    assert told == Counts(
        total=13,
        verdicts={
            "must not proceed": 3,
            "cannot be judged": 2,
            "may proceed with conditions": 3,
            "may proceed": 3,
        },
        errors=2,
        skipped=1,
        signed=6,
        refused=4,
        answered=1,
        expired=3,
        expired_refused=1,
        conditions_since=1,
        failing=1,
    )


def test_the_verdicts_come_in_words_most_serious_first(page: Page, invented: Any) -> None:
    bad = [invented.finding(grade="unacceptable")]
    text = flat(page(
        invented.row("a.yaml"), invented.row("b.yaml"), invented.row("c.yaml", bad),
        invented.row("d.yaml", state="error", error="no"),
    ))  # fmt: skip
    assert "1 must not proceed, 2 may proceed and 1 could not be reviewed." in text
    assert "safe" not in text


def test_signed_set_ups_that_would_not_pass_come_first(page: Page, invented: Any) -> None:
    bad = invented.finding(grade="unacceptable", title="Gas too rich", of="hydrogen")
    other = invented.finding("b.rule", "unacceptable", title="Hose too hot")
    unknown = invented.finding("c.rule", "undetermined", None, title="Pressure")
    rows = [
        invented.record("r/1.json", [unknown], title="Unknown one"),
        invented.record("r/2.json", [other, bad], title="Rich one"),
        invented.record("r/3.json", [], state="error", error="r/3.json: no such substance"),
        invented.record("r/4.json", [invented.finding()], title="Good one"),
        invented.record("r/5.json", [bad], title="Past one", valid_until="2030-12-31"),
    ]
    text = page(*rows)
    assert headings(text)[0] == "Signed set-ups that would not pass today: 3"
    part = flat(text.partition("Verdicts")[0])
    assert part.index("r/2.json (Rich one): must not proceed.") < part.index(
        "r/1.json (Unknown one): cannot be judged."
    )
    assert "Signed on 2031-01-02 as may proceed, to hold until 2031-12-31." in part
    assert "Unacceptable: hose too hot, at tube, and 1 more." in part
    assert "Not judged: pressure, at tube." in part
    assert "r/3.json: could not be reviewed." in part and "no such substance" in part
    assert "Good one" not in part and "Past one" not in part
    assert "1 sign-off past its last day would also not pass." in part
    assert "5 set-ups are signed, 1 past the last day." in flat(text)


def test_that_a_sign_off_would_pass_says_no_more_than_was_looked_at(
    page: Page, invented: Any
) -> None:
    """Nobody looked at its register, its signatures, or by which rules it was signed."""
    text = flat(page(invented.record("r.json", [invented.finding()])))
    assert "By the rules given here, each that is not past its last day would pass today." in text
    assert "Signatures, registers, withdrawals and the rules of then were not looked at" in text
    assert "signed" not in flat(page(invented.row("a.yaml"))).lower()


def test_expired_ones_alone_are_told_apart(page: Page, invented: Any) -> None:
    bad = invented.finding(grade="unacceptable")
    text = page(invented.record("r/5.json", [bad], valid_until="2030-12-31"))
    assert headings(text)[0] == "Signed set-ups that would not pass today: none before its last day"
    assert "1 sign-off past its last day would not pass." in flat(text)
    assert "None of them should run" not in flat(text)


def test_what_was_answered_when_signed_is_said(page: Page, invented: Any) -> None:
    unknown = invented.finding("c.rule", "undetermined", None)
    text = flat(page(invented.record("r.json", [unknown], signed_verdict="cannot be judged")))
    assert "1 of them could not be judged when signed either" in text


def test_signed_ones_that_would_pass_need_no_part_of_their_own(page: Page, invented: Any) -> None:
    text = page(invented.record("r/1.json", [invented.finding("a.rule", "tolerable")]))
    assert "would not pass" not in text
    assert "1 set-up signed without conditions would have some today." in flat(text)


def test_the_worst_finding_of_each_rule_is_the_most_hazardous(invented: Any) -> None:
    def low(value: float, **told: Any) -> Any:
        return invented.finding(
            "b.rule", "unacceptable", value, kind="demo.reserve", limit_value=100.0, **told
        )

    rows = [
        invented.row("a.yaml", [invented.finding(grade="unacceptable", value=2.0), low(50.0)]),
        invented.row("b.yaml", [
            invented.finding(grade="unacceptable", value=2.5, at="hose"),
            invented.finding(grade="acceptable", value=9.0),
            low(-3.0, case_name="upset", trial="lost", step="heat"),
        ], [invented.upset("lost", title="the feed is lost")]),
        invented.row("c.yaml", [invented.finding(grade="unacceptable", value=2.5, at="hose")]),
    ]  # fmt: skip
    with invented.read(*rows) as store:
        choose(store, None, invented.kinds)
        found = [(p, f.value, f.at, when) for p, f, when in worst_findings(store, invented.kinds)]
    assert found == [
        ("b.yaml", -3.0, "tube", "if the feed is lost, in step heat"),
        ("b.yaml", 2.5, "hose", "as planned"),
    ]


def test_it_tells_the_worst_in_the_units_of_the_bench(page: Page, invented: Any) -> None:
    low = invented.finding(
        "b.rule", "unacceptable", -50000.0, kind="demo.reserve", unit="Pa", limit_value=200000.0
    )
    text = flat(page(invented.row("a.yaml", [low])))
    assert "a.yaml, at tube: reserve -0.5 bar; at least 2 bar is wanted; as planned." in text


def test_the_most_frequent_come_first_and_the_rest_is_counted(page: Page, invented: Any) -> None:
    def bad(number: int) -> list[Any]:
        return [invented.finding(f"rule.n{n:02}", "unacceptable") for n in range(number)]

    text = flat(page(invented.row("a.yaml", bad(12)), invented.row("b.yaml", bad(3))))
    assert "2 rule rule.n00 (rule.n00)" in text
    assert text.index("rule.n02 (rule.n02)") < text.index("rule.n03 (rule.n03)")
    assert "and 7 criteria more." in text


def test_what_cannot_be_judged_gives_a_reason(page: Page, invented: Any) -> None:
    def unknown(reason: str, **told: Any) -> list[Any]:
        return [invented.finding("c.rule", "undetermined", None, reason=reason, **told)]

    text = flat(page(
        invented.row("a.yaml", unknown("no value (not known: bore of tube)")),
        invented.row("b.yaml", unknown("no value (not known: bore of hose)")),
        invented.row("c.yaml", unknown("no value (not known: bore of hose)")),
        invented.row("d.yaml", unknown("; condition: look", blocks=0)),
    ))  # fmt: skip
    assert "3 rule c.rule: for example not known: bore of hose" in text


def test_errors_are_shown_by_their_first_line(page: Page, invented: Any) -> None:
    rows = [
        invented.row(f"{n}.yaml", state="error", error=f"{n}.yaml:3:1: unknown unit\nand\nmore")
        for n in range(6)
    ]
    text = page(*rows)
    assert "0.yaml:3:1: unknown unit (and 2 more)" in text
    assert "0.yaml: 0.yaml" not in text
    assert "and 3 more; --format json names them." in text


def test_it_says_what_was_skipped(page: Page, invented: Any) -> None:
    skipped = invented.row("a.json", state="skipped", source="other", error="no scenario")
    text = flat(page(skipped, others=2))
    assert "3 files were skipped" in text and "YAML files among them: a.json." in text
    many = [invented.row(f"{n}.yaml", state="skipped", source="other") for n in range(5)]
    assert "YAML files among them: 0.yaml; 1.yaml; 2.yaml and 2 more." in flat(page(*many))
    assert "YAML files" not in page(others=2)
    assert "1 file was skipped" in page(skipped)
    assert "No file was skipped" in page()


def test_a_selection_is_told_with_what_it_leaves_out(page: Page, invented: Any) -> None:
    rows = [
        invented.row("a.yaml"),
        invented.row("b.yaml", facts='{"has_heat": false}'),
        invented.row("c.yaml", state="error", error="no"),
    ]
    text = flat(page(*rows, select="facts.has_heat"))
    assert "Only those for which this holds: facts.has_heat" in text
    assert "It holds for 1 and not for 1. For 1 it cannot be told: c.yaml." in text
    assert "1 may proceed." in text
    assert "the condition holds for no set-up" in flat(
        page(*rows, select="!facts.has_heat && false")
    )
    whole = flat(page(*rows[:2], select="facts.has_heat"))
    assert "It could be told for all of them." in whole


def test_what_the_audit_did_stands_at_the_head(page: Page) -> None:
    assert page(done="3 reviewed.").startswith("Audit of 0 set-ups\n3 reviewed.\n")


def test_a_comparison_comes_after_the_verdicts(page: Page, invented: Any) -> None:
    """Its tables are there, and empty."""
    with invented.read(invented.row("a.yaml", [invented.finding(grade="unacceptable")])) as store:
        selection = choose(store, None, {})
        store.executescript(TABLES)
        console, text = invented.console()
        compared = Compared("old.sqlite", dict.fromkeys(CHANGES, 0), 1)
        draw_summary(store, console, invented.kinds, selection, TODAY, compared=compared)
    assert headings(text.getvalue())[:3] == [
        "Verdicts", "Compared with old.sqlite", "Worst findings",
    ]  # fmt: skip


def test_text_from_files_cannot_steer_the_terminal(page: Page, invented: Any) -> None:
    evil = "x\x1b[31m\r\n\u202ey"
    bad = invented.finding(grade="unacceptable", title=evil, at=evil, reason=evil)
    text = page(
        invented.record(f"{evil}.json", [bad], title=evil, signed_verdict=evil),
        invented.row(f"e{evil}.yaml", state="error", error=evil),
    )
    assert not re.search(r"[\x00-\x09\x0b-\x1f\u202e]", text)


@pytest.mark.parametrize("width", [80, 40])
def test_a_thousand_set_ups_take_about_two_screens(page: Page, invented: Any, width: int) -> None:
    grades = ("unacceptable", "undetermined", "tolerable", "acceptable")
    rows = []
    for n in range(1000):
        findings = [
            invented.finding(f"rule.n{k:02}", grades[(n + k) % (1 + n % 4)], k / 7,
                             title="A rule with a title of usual length",
                             reason="no value (not known: the bore of the tube (not given))")
            for k in range(6)
        ]  # fmt: skip
        make = invented.record if n % 5 == 0 else invented.row
        rows.append(make(f"archive/{n % 30}/{n:04}.json", findings))
    text = page(*rows, width=width)
    assert max(map(len, text.splitlines())) <= width
    if width == 80:
        assert len(text.splitlines()) <= 70
