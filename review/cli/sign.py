"""``benchgate sign``: two people sign a review off, and a record is written."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from review.cli import options, output
from review.cli.sign_options import answered, free_name, number, on_terminal, options_again, split
from review.cli.signed import again, read_back, say
from review.cli.telling import complain as _complain

if TYPE_CHECKING:
    from review.register.questions import Question
    from review.render.page import Page

REFUSED = 1
INTERRUPTED = 130
_KEY = click.Path(path_type=Path)


def _day(ctx: click.Context, parameter: click.Parameter | None, text: str | None) -> date | None:
    from review.cli.confirming import day

    try:
        return None if text is None else day(text)
    except ValueError as error:
        raise click.BadParameter(str(error)) from error


@click.command()
@options.scenario_file
@click.option("--preparer", metavar="NAME", help="Who prepared the set-up.")
@click.option(
    "--reviewer",
    metavar="NAME",
    help="The second person, who compared the set-up with the scenario and the review; 'later' "
    "where they countersign it, on another machine perhaps.",
)
@click.option(
    "--one-person",
    is_flag=True,
    help="There is no second person. Every page says so.",
)
@click.option(
    "--two-people",
    is_flag=True,
    help="Two names that may be one person's are those of two people.",
)
@click.option(
    "--answers",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, readable=True, path_type=Path),
    help="The file of answers that the first refusal wrote, filled in.",
)
@click.option(
    "--accept",
    metavar="ID=TEXT",
    multiple=True,
    help="Confirm a condition: what was done or seen. Once for each.",
)
@click.option(
    "--answer",
    metavar="ID=ROLE:REASON",
    multiple=True,
    help="Answer a finding that could not be judged: in which role, and why the run may go on. "
    "Once for each.",
)
@click.option(
    "--until",
    metavar="DATE",
    callback=_day,
    help="The last day on which it holds, as 2031-05-06; 30 days from now if not given (common "
    "practice, no source).",
)
@click.option(
    "--runs",
    metavar="N",
    type=int,
    help="For how many runs it holds; 1 if not given (common practice, no source). What they use "
    "up together is asked about.",
)
@click.option(
    "--attach",
    metavar="FILE",
    multiple=True,
    type=_KEY,
    help="A file whose hash stands in the record. May be given more than once.",
)
@options.register_folder
@click.option(
    "--preparer-key", metavar="FILE", type=_KEY, help="SSH key with which the preparer signs."
)
@click.option(
    "--reviewer-key", metavar="FILE", type=_KEY, help="SSH key with which the reviewer signs."
)
@options.rules_files
@options.plugin_files
@click.pass_context
def sign(ctx: click.Context, /, file: Path, **given: Any) -> None:
    """Sign a review off: two people confirm its conditions, and a record is kept.

    On a terminal it asks for whatever the options do not say; a script is never asked: what is
    missing is written into answers.yaml, to be filled in. What must not proceed cannot be signed.
    What could not be judged is signed only with an answer to each open finding.

    Exit status 0: signed, and a record was written. 1: refused, and nothing was signed. 2: the
    input is wrong. 3: the tool itself failed.
    """
    from review.register.record import RecordError

    given["reviewer"] = "nobody" if given["one_person"] else given["reviewer"]
    signing = _Signing(ctx, file, given)
    signing.refuse_or_ask()
    # Where the file changed meanwhile, nobody has seen what it says now: it is asked anew.
    body = signing.body()
    try:
        path = signing.book.add(body, signing.signers)
    except RecordError:
        if signing.asks:
            _complain(["not signed. To sign without typing it all again:", *signing.again()])
        raise
    except KeyboardInterrupt:
        register = given["register"]
        _complain([f"interrupted; benchgate verify {register} says whether a record was written."])
        ctx.exit(INTERRUPTED)
    try:
        say(path, read_back(path), file, signing.new, signing.rules_and_plugins())
    except OSError as error:
        # It is signed, whether or not that can be told as it should be.
        _complain([f"signed: the record is {path}; what it holds for cannot be shown ({error})."])


class _Signing:
    """One sign-off, from what was given to the record."""

    def __init__(self, ctx: click.Context, file: Path, given: dict[str, Any]) -> None:
        from review.engine.reviewing import Engine
        from review.register.chain import Register
        from review.register.record import RecordError
        from review.register.signatures import fingerprint
        from review.register.use import attached

        self.ctx, self.file, self.given = ctx, file, given
        keys = {role: given[f"{role}_key"] for role in ("preparer", "reviewer")}
        self.signers = {role: key for role, key in keys.items() if key is not None}
        self.prints = {role: fingerprint(key) for role, key in self.signers.items()}
        self.attached = attached(given["attach"])
        self.book = Register(given["register"])
        self.new = not given["register"].exists()
        if not self.new and (problems := self.book.problems()):
            # Before anybody has answered anything; what happens meanwhile is found when writing.
            raise RecordError(
                f"{given['register']} is not in order, so nothing is signed into it:\n"
                + "\n".join(problems)
            )
        self.entries = () if self.new else self.book.entries()
        self.engine = Engine(plugin_files=given["plugin"], rules_files=given["rules"])
        self.scenario = self.engine.load(file)
        self.review = self.engine.review(self.scenario)
        self.asks = False
        self.blank = ""
        self._read()

    def _read(self) -> None:
        """What the options and the file of answers say."""
        from review.cli.confirming import Draft
        from review.register import answers

        given = self.given
        told, runs = None, given["runs"]
        if given["answers"] is not None:
            name = given["answers"].name
            told = answers.opened(given["answers"].read_bytes(), name)
            runs = runs if runs is not None else number(str(told.get("runs") or ""), name)
        self.asked = self._questions(runs)
        draft = Draft(
            given["preparer"], None, given["until"], runs,
            told_apart=given["two_people"],
        )  # fmt: skip
        if told is not None:
            filled = answers.filled(told, name, self.review, self.asked, str(self.file))
            draft.accepted, draft.answered = dict(filled.accepted), dict(filled.answered)
            draft.preparer = draft.preparer or filled.preparer or None
            if draft.until is None and filled.until:
                draft.until = _day(self.ctx, None, filled.until)
            if filled.reviewer:
                draft.name(filled.reviewer)
            self.blank = answers.still_blank(filled, name)
        if given["reviewer"]:
            draft.name(given["reviewer"])
        draft.accepted |= split(given["accept"], self.asked, "--accept")
        draft.answered |= answered(split(given["answer"], self.asked, "--answer"))
        self.draft = draft

    def _questions(self, runs: int | None) -> tuple[Question, ...]:
        from review.register.also import also_asked
        from review.register.questions import questions

        also = also_asked(self.review, self.scenario, self.entries, runs or 1)
        return (*questions(self.review), *also)

    def _refuse_near_a_limit(self) -> None:
        """What may proceed only at the numbers as written is not signed."""
        from review.explore.accuracy import weighed
        from review.explore.points import ALLOWED
        from review.render.terminal import render_terminal

        closer = weighed(self.engine, self.scenario, self.review)
        if self.review.verdict in ALLOWED and closer.verdict not in ALLOWED:
            shown = output.rendered(lambda console: render_terminal(closer, console, quiet=True))
            output.write(shown)
            lines = (f"  - {line.rstrip('.')}." for line in closer.sections[-1].lines)
            then = "Keep further from the limit, or state how exact the figures are."
            _complain(["not signed. It holds only at the figures as written:", *lines, then])
            self.ctx.exit(REFUSED)

    def refuse_or_ask(self) -> None:
        """Show the review; then ask for what is missing, or say all that stands in the way."""
        from review.cli.confirming import Stopped, ask_for_the_rest
        from review.register import clock
        from review.render.terminal import render_terminal

        self._refuse_near_a_limit()
        draft, review = self.draft, self.review
        wrong = (*draft.problems(review, self.asked, clock.now()), *self._key_problems())
        complete = draft.complete(self.asked)
        self.asks = on_terminal() and not wrong and not complete and not self.blank
        if not self.asks:
            text = output.rendered(lambda console: render_terminal(review, console, quiet=True))
            output.write(text)
        self._show_renewal()
        if wrong or not (self.asks or complete):
            _complain(self._refusal(wrong))
            self.ctx.exit(REFUSED)
        try:
            if self.asks:
                self.asked = ask_for_the_rest(review, self.asked, draft, self._questions)
        except Stopped:
            _complain(["not signed, and nothing was written."])
            self.ctx.exit(REFUSED)
        except (click.Abort, KeyboardInterrupt):
            click.echo(err=True)
            _complain(["interrupted; nothing was written."])
            self.ctx.exit(INTERRUPTED)

    def _key_problems(self) -> tuple[str, ...]:
        """A site may say with which keys its reviewers sign."""
        from review.register.people import not_listed

        if self.draft.second != "named":
            return ("a reviewer's key is given, but no reviewer",) * ("reviewer" in self.signers)
        print_ = self.prints.get("reviewer", "")
        return not_listed(self.engine.ruleset.reviewers, print_) if self.draft.reviewer else ()

    def _show_renewal(self) -> None:
        """What changed since this set-up was signed last."""
        from review.register.also import last_of
        from review.register.renewal import renewal
        from review.render.page import Page

        before = last_of(self.entries, self.scenario)
        if before is None or self.review.verdict == "must not proceed":
            return
        lines = renewal(before, self.file, self.engine, self.review, self.entries)

        def draw(page: Page) -> None:
            page.heading(f"Signed before: record {before.number} of {before.signed_at:%Y-%m-%d}")
            for line in lines:
                page.text(line, indent=4, mark="  -")

        output.write(output.rendered(lambda console: draw(Page(console))))

    def body(self) -> dict[str, Any]:
        """What the record says."""
        from review.register import clock
        from review.register.record import compose

        now = clock.now()
        also = tuple(q for q in self.asked if not q.findings)
        body = compose(
            self.review, self.scenario, self.engine.ruleset, self.draft.signing(now.date()), now,
            self.prints, also,
        )  # fmt: skip
        body |= {"defaults": self.draft.defaults()}
        body |= {"attached": self.attached} if self.attached else {}
        return body

    def _refusal(self, wrong: Sequence[str]) -> Iterator[str]:
        """Everything that stands in the way, at once."""
        from review.render.words import listed, upper_first

        yield "not signed."
        if wrong:
            yield "What is wrong:"
            yield from (f"  - {upper_first(problem)}." for problem in wrong)
        if self.review.verdict == "must not proceed":
            yield "Change what must change, review the set-up again, and sign then."
            return
        if self.blank:
            yield f"{upper_first(self.blank)}."
        if unnamed := self.draft.unnamed():
            yield f"Not said yet: who is the {listed(unnamed)}."
        missing = self.draft.missing(self.asked)
        if not self.blank and (missing or (unnamed and self.given["answers"] is None)):
            yield from self._ask_in_writing(missing)

    def _ask_in_writing(self, missing: Sequence[Question]) -> Iterator[str]:
        """Write the file to fill in, and say so."""
        from review.register import answers
        from review.render.words import counted

        name = free_name(answers.NAME)
        command = shlex.join(
            ["benchgate", "sign", str(self.file), "--answers", name, *self.rules_and_plugins(),
             *self._other_options()]
        )  # fmt: skip
        draft = self.draft
        people = {
            "preparer": draft.preparer or "",
            "reviewer": (draft.reviewer or "") if draft.second == "named" else draft.second,
            "until": str(draft.until or ""),
            "runs": str(draft.runs or ""),
        }
        accepted = {q.id: draft.accepted[q.id] for q in self.asked if q.id in draft.accepted}
        text = answers.written(
            self.review, self.asked, command, accepted, draft.answered, people
        )  # fmt: skip
        output.write_file(Path(name), text, keep=(self.file,))
        groups = answers.groups(self.review, missing)
        if groups:
            open_ones = sum(group.open for group in groups)
            kinds = [
                f"{counted(open_ones, 'answer')} to what could not be judged" if open_ones else "",
                counted(len(groups) - open_ones, "confirmation") if len(groups) > open_ones else "",
            ]
            yield f"Missing: {' and '.join(filter(None, kinds))}."
        yield f"{name} holds all that is asked. Fill it in, and then:"
        yield f"  {command}"

    def _other_options(self) -> list[str]:
        register = self.given["register"]
        found = options_again("--register", [register] if register != Path("register") else [])
        found += options_again("--attach", self.given["attach"])
        return found + [p for r, key in self.signers.items() for p in (f"--{r}-key", str(key))]

    def rules_and_plugins(self) -> list[str]:
        """What was given: without it a record may not hold."""
        named = self.given["rules"][options.of_the_machine(self.given["rules"]) :]
        return [*options_again("--rules", named), *options_again("--plugin", self.given["plugin"])]

    def again(self) -> Iterator[str]:
        """The command that says everything that was given and typed."""
        return again(self.file, self.draft, [*self.rules_and_plugins(), *self._other_options()])
