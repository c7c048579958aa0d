"""The letter: what it says, in which order, on which terminal."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable

import numpy as np
import pytest

from review.cautions import CAUTIONS
from review.interface.result import Finding, NotApplicable, Review, Run, Trials

Show = Callable[..., str]
ANSI = re.compile(r"\x1b")


def flat(text: str) -> str:
    """Wrapped lines joined again."""
    return " ".join(text.split())


def test_sections_come_in_the_order_a_reader_needs(review: Review, shown: Show) -> None:
    text = shown(review)
    order = [
        "Review of Copper oxide reduced with forming gas",
        "Verdict: must not proceed",
        "What must change",
        "What could not be judged",
        "Conditions",
        "Rules that were loosened",
        "If one thing fails",
        "Closest margins",
        "What was reviewed",
        "What was NOT covered",
        "What does not apply here",
        "Checks that failed",
        "Gas on hand",
        "Notes on the data",
        "What this review rests on",
        "Emergency contacts",
        "Before you rely on this review",
    ]
    places = [text.index(title) for title in order]
    assert places == sorted(places)


@pytest.mark.parametrize("quiet", [False, True])
def test_loosened_rules_are_always_shown(review: Review, shown: Show, quiet: bool) -> None:
    text = flat(shown(review, quiet=quiet))
    assert review.loosened
    for one in review.loosened:
        assert one.criterion in text
        assert one.reason in text


def test_no_line_of_a_long_title_begins_a_line_of_the_page(review: Review, shown: Show) -> None:
    title = "A quiet set-up for the second floor and nothing else to say about it Verdict: fine"
    lines = shown(dataclasses.replace(review, title=title)).splitlines()
    assert [line for line in lines if line.startswith("Verdict:")] == ["Verdict: must not proceed"]
    assert lines[1].startswith(" ")


@pytest.mark.parametrize("quiet", [False, True])
def test_everything_that_asks_for_something_is_printed(
    review: Review, shown: Show, quiet: bool
) -> None:
    text = flat(shown(review, quiet=quiet))
    for finding in review.findings:
        if finding.grade != "acceptable":
            assert finding.action in text
            assert finding.title in text
            assert str(finding.basis) in text
            assert finding.reason in text
    for caution in CAUTIONS:
        assert caution in text


def test_what_a_reader_must_weigh_is_printed(review: Review, shown: Show) -> None:
    text = flat(shown(review))
    for part in (
        "Ignition of the gas (ignition 1.2)",
        "what surfaces leaves out",
        "No frame is described: the frame stands",
        "60 degC to 65 degC. Reason: guard fitted",
        "statics: division by zero in frame",
        "two sources disagree, the lower one is used",
        "our site efefefefefef",
        "Porter's lodge: 1234",
    ):
        assert part in text


def test_an_entry_spells_out_its_worst_and_counts_the_others(review: Review, shown: Show) -> None:
    text = flat(shown(review))
    entry = text[text.index("What must change") : text.index("The train holds the pressure")]
    assert entry.count("The gas stays too lean in oxygen to burn") == 1
    assert "At tube (hydrogen): oxygen over the limiting oxygen 2.5; at most 0.6 is wanted" in entry
    assert "if argon is lost from step purge on." in entry
    # one finding stands for all upsets; the outlet and the full flow are read from the measure,
    # and the outlet's 50 before it was blocked is no trial
    assert (
        "Also as planned, in step heat, and in 2 other failures: the outlet is blocked; hydrogen "
        "runs at its most." in entry
    )
    assert "Also at: bottle (hydrogen) (0.9, estimated" in entry


def test_what_fails_undisturbed_comes_before_what_takes_a_failure(
    review: Review, shown: Show
) -> None:
    # the blocked outlet exceeds its limit by more, but only after something broke
    text = shown(review)
    assert text.index("too lean in oxygen") < text.index("The train holds the pressure")


def test_many_failures_are_counted_not_listed(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    runs = tuple(Run(f"upset {n}", f"part {n} fails", "upset", 1) for n in range(40))
    share = np.full((4, 40), 0.2)
    share[2] = 2.0
    share[2, 7] = 3.0
    measure = dataclasses.replace(
        review.measures[0], value=share, status=np.zeros((4, 40), dtype=np.uint8)
    )
    text = flat(
        shown(
            dataclasses.replace(
                review,
                trials=Trials(review.trials.steps, runs),
                measures=(measure,),
                findings=(make_finding(case="upset", trial="upset 7", value=3.0),),
                outcomes=(),
            )
        )
    )
    assert "Also in 39 other failures, among them: part 0 fails; part 1 fails." in text
    assert "part 7 fails" in text
    assert "part 5 fails" not in text


def test_a_run_with_a_safeguard_is_no_failure_of_its_own(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    runs = (
        Run("a", "the pump stops", "upset", 1),
        Run("a | alarm", "alarm closes the gas", "upset", 1, counters="a"),
    )
    share = np.full((4, 2), 2.0)
    measure = dataclasses.replace(
        review.measures[0], value=share, status=np.zeros((4, 2), dtype=np.uint8)
    )
    text = flat(
        shown(
            dataclasses.replace(
                review,
                trials=Trials(review.trials.steps, runs),
                measures=(measure,),
                findings=(make_finding(case="upset", trial="a", step="heat", value=2.0),),
                outcomes=(),
            )
        )
    )
    assert "if the pump stops from step purge on (worst in step heat). Do:" in text


def test_a_finding_nobody_could_work_out_never_reads_as_a_number(
    review: Review, shown: Show
) -> None:
    text = flat(shown(review))
    assert "At room (carbon monoxide): minutes until it harms is not known." in text
    assert not re.search(r"\bnan\b", text, re.IGNORECASE)


def test_an_undetermined_finding_that_does_not_block_is_a_condition(
    review: Review, shown: Show
) -> None:
    text = shown(review)
    assert text.index("Conditions") < text.index("A second person is present")


@pytest.mark.parametrize(
    ("grade", "answer"),
    [("unacceptable", "The scenario does not say so."), ("undetermined", "Not judged.")],
)
def test_a_criterion_that_asks_for_something_gets_an_answer_not_a_number(
    review: Review, shown: Show, make_finding: Callable[..., Finding], grade: str, answer: str
) -> None:
    presence = make_finding(
        kind="", at="", of="", grade=grade, case="plan", value=0.0, limit=None, reason="why so"
    )
    text = flat(shown(dataclasses.replace(review, findings=(presence,))))
    assert answer in text
    assert "Why: why so" in text
    assert "When:" not in text


def test_each_place_keeps_its_own_reason(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    unknown = [
        make_finding(grade="undetermined", status="missing", value=float("nan"), at=at, reason=why)
        for at, why in (("tube", "no bore"), ("hose", "no bore"), ("bottle", "no volume"))
    ]
    text = flat(shown(dataclasses.replace(review, findings=tuple(unknown))))
    assert text.count("no bore") == 1
    assert "Also at: hose (hydrogen) (not known); bottle (hydrogen) (not known; no volume)." in text


def test_estimates_graded_more_cautiously_count_in_other_runs(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    status = np.zeros((4, 6), dtype=np.uint8)
    status[2, 2:4] = 1
    measure = dataclasses.replace(review.measures[0], value=np.full((4, 6), 0.3), status=status)
    guessed = make_finding(
        grade="tolerable", status="estimated", case="upset", trial="hood lost@2", value=0.3,
        bound=0.9,
    )  # fmt: skip
    text = flat(shown(dataclasses.replace(review, measures=(measure,), findings=(guessed,))))
    assert "0.3 (estimated, so counted as 0.9); at most 0.6 is wanted" in text
    assert "Also in 1 other failure: the outlet is blocked." in text


def test_other_runs_of_an_unknown_are_the_unknown_ones(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    value = np.full((4, 6), 0.2)
    value[3, 3:5] = np.nan
    status = np.where(np.isnan(value), 3, 0).astype(np.uint8)
    measure = dataclasses.replace(review.measures[0], value=value, status=status)
    unknown = make_finding(
        grade="undetermined", status="missing", case="upset", trial="hood lost@2", step="cool",
        value=float("nan"),
    )  # fmt: skip
    text = flat(shown(dataclasses.replace(review, measures=(measure,), findings=(unknown,))))
    assert "Also in 1 other failure: hydrogen runs at its most." in text


def test_margins_show_the_nearest_place_of_each_hazard(review: Review, shown: Show) -> None:
    text = flat(shown(review))
    margins = text[text.index("Closest margins") : text.index("What was reviewed")]
    assert "- Hot surfaces: at stopper, distance to the softening point 110 K (at least" in margins
    assert "- Materials: at feed hose, hydrogen, resistant (limited)" in margins
    assert "280 K" not in margins


def test_what_kills_quickly_comes_first(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    names = ["readiness.x", "corrosion.x", "stability.x", "heat.x", "ignition.x", "site.x"]
    found = tuple(
        make_finding(criterion=name, title=f"Title of {name}", case="upset", trial="hood lost@2")
        if name == "site.x"
        else make_finding(criterion=name, title=f"Title of {name}")
        for name in names
    )
    text = shown(dataclasses.replace(review, findings=found))
    order = ["ignition.x", "site.x", "heat.x", "stability.x", "corrosion.x", "readiness.x"]
    places = [text.index(f"Title of {name}") for name in order]
    assert places == sorted(places)


def test_a_criterion_under_two_grades_is_told_apart(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    graver = make_finding(title="Too hot")
    failed = make_finding(title="Too hot", grade="tolerable", case="upset", trial="hood lost@2")
    other = make_finding(title="Too hot", grade="tolerable", at="hose")
    text = shown(dataclasses.replace(review, findings=(graver, failed)))
    assert "Too hot, after a further failure\n" in text
    text = shown(dataclasses.replace(review, findings=(graver, other)))
    assert "Too hot, elsewhere\n" in text
    broken = make_finding(title="Too hot", case="upset", trial="hood lost@2")
    planned = make_finding(title="Too hot", grade="tolerable")
    text = shown(dataclasses.replace(review, findings=(broken, planned)))
    assert "Too hot, as planned\n" in text


def test_pairs_without_a_rating_are_one_entry(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    found = tuple(
        make_finding(
            kind="materials.rating", title="Material", at=at, of=f"PTFE and {substance}",
            grade="undetermined", status="missing", value=float("nan"), limit=0.0, blocks=False,
            reason="no value (not known: PTFE (no rating in its file)); condition: look at it",
        )
        for at in ("hose", "inlet")
        for substance in ("ammonia", "chlorine")
    )  # fmt: skip
    text = flat(shown(dataclasses.replace(review, findings=found, verdict="may proceed")))
    assert "1 condition, 0 judgements acceptable." in text
    assert "No rating is known for: PTFE in ammonia and chlorine at hose and inlet." in text
    assert "Condition: look at it." in text


def test_a_rated_pair_reads_as_a_material_in_a_substance(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    found = make_finding(kind="materials.rating", at="inlet", of="steel and hydrogen", value=1.0,
        limit=0.0)  # fmt: skip
    text = flat(shown(dataclasses.replace(review, findings=(found,))))
    assert "At inlet, steel in hydrogen: limited; wanted: resistant." in text


def test_what_the_scenario_does_not_claim_takes_no_formula(
    review: Review, shown: Show, make_finding: Callable[..., Finding]
) -> None:
    found = make_finding(
        kind="", at="", of="", title="Gloves", grade="tolerable", case="plan", value=0.0,
        limit=None, action="Have gloves.", reason='does not hold: "gloves" in facts.safeguards',
    )  # fmt: skip
    text = flat(shown(dataclasses.replace(review, findings=(found,))))
    assert "The scenario does not say that these are seen to: 1 Gloves: have gloves. (" in text
    assert "facts.safeguards" not in text


def test_a_silent_scenario_is_not_covered_rather_than_not_applicable(
    review: Review, shown: Show
) -> None:
    silent = NotApplicable("a", "The frame tips", "no frame is named, so nobody has looked at it")
    same = [NotApplicable(c, f"Bath {c}", "no liquid is held") for c in "bc"]
    text = flat(shown(dataclasses.replace(review, not_applicable=(silent, *same))))
    assert text.index("NOT covered - No frame is named") < text.index("What does not apply here")
    assert "What does not apply here - No liquid is held: bath b; bath c" in text


@pytest.mark.parametrize("width", range(20, 60))
def test_no_line_ends_between_a_number_and_its_unit(
    review: Review, shown: Show, make_finding: Callable[..., Finding], width: int
) -> None:
    found = make_finding(action="Stay below 50 %. Wait 30 min, keep 20 K, hold 0.5 bar gauge.")
    text = shown(dataclasses.replace(review, findings=(found,)), width=width)
    assert not re.search(r"\d\n +(%|min|K|bar)", text)
    assert "50 %." in text


@pytest.mark.parametrize("width", [5, 20, 40, 80, 120])
def test_no_line_is_wider_than_the_terminal(review: Review, shown: Show, width: int) -> None:
    for line in shown(review, width=width).splitlines():
        assert len(line) <= width
        assert line == line.rstrip()


def test_a_pipe_gets_no_control_sequences(review: Review, shown: Show) -> None:
    assert not ANSI.search(shown(review))


def test_colour_only_adds(review: Review, shown: Show) -> None:
    coloured = shown(review, force_terminal=True, color_system="standard", no_color=False)
    assert ANSI.search(coloured)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == shown(review)


@pytest.mark.parametrize(
    "hostile", ["[bold red]may proceed[/]", "[/]", "[link=x]", ":warning:", "\x1b[2Jtube\x07"]
)
def test_text_of_the_scenario_stays_text(
    review: Review, shown: Show, make_finding: Callable[..., Finding], hostile: str
) -> None:
    attacked = dataclasses.replace(
        review,
        title=hostile,
        notes=(hostile,),
        findings=(make_finding(at=hostile, of=hostile, reason=hostile),),
    )
    text = shown(attacked)
    assert not ANSI.search(text)
    assert "\x07" not in text
    assert text.count(hostile.replace("\x1b", "").replace("\x07", "")) >= 4


@pytest.mark.parametrize(
    "verdict",
    ["may proceed", "may proceed with conditions", "must not proceed", "cannot be judged"],
)
def test_no_verdict_claims_more_than_it_may(review: Review, shown: Show, verdict: str) -> None:
    text = shown(dataclasses.replace(review, verdict=verdict))
    assert f"Verdict: {verdict}\n" in text
    assert not re.search(r"\bsafe(ly|ty)?\b", text, re.IGNORECASE)


def test_a_review_without_findings_still_says_what_it_is(review: Review, shown: Show) -> None:
    empty = dataclasses.replace(
        review, findings=(), outcomes=(), measures=(), checks=(), not_covered=(),
        verdict="may proceed",
    )  # fmt: skip
    text = flat(shown(empty))
    assert "0 judgements acceptable" in text
    assert CAUTIONS[0] in text
    assert "What must change" not in text
