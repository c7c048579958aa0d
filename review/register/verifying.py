"""Whether a record is as it was signed, and whether it still says what a review says today.

`Verifier` looks at one record or at a whole register and puts everything into words; nothing is
changed. What holds and what does not is said point by point, so that nobody has to guess which of
them failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from review.engine.reviewing import Engine
from review.interface.result import Review
from review.judge.effective import ruleset_to_json
from review.register import files
from review.register.chain import Register
from review.register.comparison import Move, alike, moves, moves_in_words, scenario_changes
from review.register.entries import (
    CLOCKS_DIFFER,
    Countersignature,
    Standing,
    checked_countersignature,
    standing,
)
from review.register.given import Given, newest_of
from review.register.inspection import in_a_register, record_files, record_name, signature_of
from review.register.milder import MILDER, milder, only_now
from review.register.questions import questions
from review.register.record import (
    ROLES,
    BrokenRecord,
    Record,
    RecordError,
    is_note,
    read_record,
)
from review.register.signable import not_signable
from review.register.signatures import BadSignature, SignatureError, checked, signed_by
from review.register.since import Since, since
from review.register.use import attachments, standing_points
from review.register.verified import Point, Verified, VerifiedRegister
from review.register.wording import (
    ALONE,
    HEAD,
    NOT_TOLD,
    WHOSE,
    because,
    in_disorder,
    in_order,
    moment_in_words,
    unchecked,
    whose_key,
)
from review.render.json import to_json
from review.render.words import counted, listed
from review.scenario import InputError

__all__ = ["VERDICTS", "Verifier"]


class Verifier:
    """Compares records with today's rules, data and code.

    `engine` has the rules and plugins that were given now, `allowed` is an allowed-signers file
    and `now` the moment that counts as today, in the zone of whoever asks. `one_person`: what only
    one person signed was asked for. `attached` files are compared with those that a record names.
    """

    def __init__(
        self,
        engine: Engine,
        now: datetime,
        allowed: Path | None = None,
        *,
        one_person: bool = False,
        attached: tuple[Path, ...] = (),
    ) -> None:
        self._engine = engine
        self._now = now
        self._allowed = allowed
        self._one_person = one_person
        self._attached = attached
        self._reviews: dict[tuple[str, str], Review] = {}

    def record(self, path: Path, scenario: Given | None = None) -> Verified:
        """Everything about one record, its place in the register around it included.

        Raises RecordError where the file is no record or comes from a newer benchgate.
        """
        if path.is_symlink() and not in_a_register(path):
            path = path.resolve()
        entries: tuple[Record, ...] | None = None
        place: tuple[Point, ...] = ()
        if in_a_register(path):
            entries, place = self._place(path)
        found = self._one(path, scenario, entries, everything=True)
        seal, rest = found.points[:1], found.points[1:]
        return _absent_first(replace(found, points=(*seal, *place, *rest)))

    def register(self, folder: Path, scenario: Given | None = None) -> VerifiedRegister:
        """Every record of a register, and the register as a whole.

        Raises RecordError where the folder is no register.
        """
        book = Register(folder)
        problems, notes = book.problems(), book.notes()
        paths = record_files(folder)
        if not paths and not (folder / HEAD).exists():
            raise RecordError(f"{folder} is no register: it holds neither {HEAD} nor records")
        entries = () if problems else book.entries()
        noted = {path.name for path in paths if _is_note(path)}
        found = [
            self._one(path, None, entries, everything=False)
            for path in paths
            if path.name not in noted
        ]
        said = in_disorder(problems) if problems else in_order(found, len(noted), notes)
        if not paths and not problems:
            said = ("it holds no record, so nothing is signed here", *notes)
        points = [Point("Register", said, bool(paths) and not problems)]
        if self._allowed is None and any(each.record and each.record.keys for each in found):
            points.append(Point("Signatures", (WHOSE,)))
        asked = None
        if scenario is not None:
            index = newest_of(found, scenario)
            if index is None:
                points.append(
                    Point("Scenario", (f"no record here is of {scenario.path}: sign it",), False)
                )
            else:
                compared = self._scenario(found[index].record, scenario)
                asked = replace(found[index], points=(*found[index].points, compared))
                found[index] = asked
        return VerifiedRegister(str(folder), tuple(map(_absent_first, found)), tuple(points), asked)

    def _one(
        self,
        path: Path,
        scenario: Given | None,
        entries: tuple[Record, ...] | None,
        *,
        everything: bool,
    ) -> Verified:
        """One record; one that is not in use is looked at in full only if asked for.

        `entries` are those of its register, None where it has none.
        """
        try:
            record = read_record(files.read(path), path.name)
        except RecordError as error:
            broken = isinstance(error, BrokenRecord)
            if everything and not broken:
                raise
            said = Point("Record", (str(error),), False)
            return Verified(path.name, None, (said,), broken=broken)
        except FileNotFoundError as error:
            raise RecordError(f"{path} is not there any more; ask again") from error
        if record.kind != "sign-off":
            raise RecordError(
                f"{path.name} is no sign-off, but notes a {record.kind} of record {record.of[0]}: "
                f"ask about {record_name(record.of[0])}"
            )
        expired = self._now.date() > record.valid_until
        became = standing(record, entries or ())
        points = [Point("Record", ("it is as it was sealed, to the byte",))]
        points += self._signatures(path, record, became)
        points += list(standing_points(record, became, self._one_person))
        if entries is None:
            points.append(Point("Register", (ALONE,)))
            points.append(Point("In use", (NOT_TOLD,), False, idle=True))
        if scenario is not None:
            points.append(self._scenario(record, scenario))
        points += attachments(record, self._attached)
        points += self._milder(record)
        if everything or not (expired or any(point.idle for point in points)):
            points += self._today(record)
        points += self._time(record, expired, became)
        return Verified(path.name, record, tuple(points), expired=expired, standing=became)

    # The file and what stands around it

    def _place(self, path: Path) -> tuple[tuple[Record, ...], tuple[Point, ...]]:
        """The entries of the register around a record, and whether it stands in its place."""
        book = Register(path.parent)
        problems = book.problems()
        if problems:
            return (), (Point("Register", in_disorder(problems), False),)
        entries = book.entries()
        if path.name not in {record_name(record.number) for record in entries}:
            told = f"{path.name} is no record of the register here"
            return entries, (Point("Register", (told,), False),)
        return entries, (Point("Register", ("it stands in its place in the chain", *book.notes())),)

    def _signatures(self, path: Path, record: Record, became: Standing) -> Iterator[Point]:
        lines, holds = [], True
        for role in ROLES[:2] if record.second == "named" else ROLES[:1]:
            signature, person = signature_of(path, role), getattr(record, role)
            if role not in record.keys:
                if signature.exists():
                    lines.append(f"{signature.name} is there, but the record names no such key")
                    holds = False
                elif self._allowed is not None:
                    lines.append(
                        f"{role}: no key of {person} signs it, so nothing shows who it was"
                    )
                    holds = False
                continue
            try:
                lines.append(f"{role}: {self._signature(path, signature, record, role, person)}")
            except SignatureError as error:
                lines.append(f"{role}: {error}")
                holds = False
        if became.countersigned is not None:
            said, good = self._countersigned(became.countersigned)
            lines.append(f"reviewer: {said}")
            holds &= good
        if lines:
            yield Point("Signatures", tuple(lines), holds)

    def _countersigned(self, found: Countersignature) -> tuple[str, bool]:
        who = found.reviewer
        if not found.key:
            said = f"no key of {who} signs the countersignature, so nothing shows who it was"
            return said, self._allowed is None
        if self._allowed is None:
            return unchecked(found.key, who), True
        try:
            principal, pattern = checked_countersignature(found, self._allowed)
        except SignatureError as error:
            return str(error), False
        return whose_key(principal, pattern), True

    def _signature(self, path: Path, signature: Path, record: Record, role: str, who: str) -> str:
        key = signed_by(path, signature)
        if key != record.keys[role]:
            raise BadSignature(f"it was made with {key}, but the record names {record.keys[role]}")
        if self._allowed is None:
            return unchecked(key, who)
        return whose_key(*checked(path, signature, self._allowed, who, record.signed_at))

    # The scenario

    def _scenario(self, record: Record | None, scenario: Given) -> Point:
        assert record is not None
        if record.scenario_sha256 == scenario.sha256:
            return Point("Scenario", (f"{scenario.path} is as it was signed, to the byte",))
        changes = scenario_changes(record.scenario_text, scenario.text)
        real = [change.words for change in changes if not change.same]
        same = [change.words for change in changes if change.same]
        if real:
            head = f"{scenario.path} is not what was signed:"
            return Point("Scenario", (head, *real, *same), False)
        written = f"{scenario.path} is written in another way and says what was signed"
        return Point("Scenario", (f"{written}:" if same else written, *same))

    # What a review says today

    def _milder(self, record: Record) -> Iterator[Point]:
        """Rules that were made milder, for the record or only for this question."""
        then = milder(record.data["ruleset"])
        if then:
            yield Point(MILDER, ("when it was signed, so that it asks for less:", *then))
        now = only_now(ruleset_to_json(self._engine.ruleset), then)
        if now:
            yield Point(MILDER, ("now, and not when it was signed:", *now))

    def _today(self, record: Record) -> Iterator[Point]:
        try:
            review = self._review(record.scenario_text, str(record.data["scenario"]["file"]))
        except InputError as error:
            wrong = str(error).splitlines()
            yield Point(
                "Review today",
                ("benchgate no longer takes the scenario as it was signed:", *wrong),
                False,
            )
            return
        changed = since(record.data, self._engine, review)
        if changed.absent:
            yield Point("Given now", changed.absent, False)
        yield from self._findings(record, review, changed)
        asked = (*not_signable(record, review), *self._unconfirmed(record, review))
        if asked:
            head = "a sign-off would be refused, or ask for more than was confirmed then:"
            yield Point("Sign-off today", (head, *asked), False)

    def _review(self, text: str, file: str) -> Review:
        """What is signed again and again is reviewed once."""
        if (text, file) not in self._reviews:
            self._reviews[text, file] = self._engine.review(self._engine.loads(text, file))
        return self._reviews[text, file]

    def _findings(self, record: Record, review: Review, changed: Since) -> Iterator[Point]:
        before, after = record.data["review"]["findings"], to_json(review)["findings"]
        titles = {c["id"]: c["title"] for c in record.data["ruleset"]["criteria"]}
        titles |= {c.id: c.title for c in self._engine.ruleset.criteria}
        graver: list[str] = []
        milder_now: list[str] = []
        verdicts = [VERDICTS.index(verdict) for verdict in (record.verdict, review.verdict)]
        if verdicts[0] != verdicts[1]:
            told = f"the verdict was '{record.verdict}', and would be '{review.verdict}'"
            (graver if verdicts[1] > verdicts[0] else milder_now).append(told)
        for same in alike(move for move in moves(before, after) if move.matters):
            said = moves_in_words(same, titles, self._engine.kinds)
            causes = dict.fromkeys(cause for move in same for cause in changed.because(move))
            some = graver if any(_graver(move, changed) for move in same) else milder_now
            some.append(f"{said}. {because(tuple(causes))}")
        all_changes = (*changed.other, *changed.rules.values(), *changed.grounds)
        if graver:
            yield Point("Review today", ("it would be stricter:", *graver, *milder_now), False)
        elif milder_now:
            told = "it says nothing graver; what is milder changes nothing:"
            yield Point("Review today", (told, *milder_now))
        else:
            also = "though not all is as it was" if all_changes else "and nothing else has changed"
            yield Point("Review today", (f"it gives every finding the same grade, {also}",))
        if all_changes:
            yield Point("Changed since", ("what the review rests on:", *all_changes))

    def _unconfirmed(self, record: Record, review: Review) -> Iterator[str]:
        """What a sign-off would ask for today and nobody confirmed or answered then."""
        confirmed = {each["id"]: each for each in record.data["conditions"]}
        answered = {each["id"] for each in record.data["answers"]}
        reworded: dict[tuple[str, str], list[str]] = {}
        for question in questions(review):
            id = question.id
            if question.open and id not in answered:
                yield f"{id} could not be judged, and nobody answered for it"
            elif not question.open and id not in {*confirmed, *answered}:
                yield f"{id} is a condition, and nobody confirmed it"
            elif id in confirmed and question.action != confirmed[id]["action"]:
                reworded.setdefault((question.action, confirmed[id]["action"]), []).append(id)
        for (now, then), ids in reworded.items():
            yield f'{listed(ids)}: it now says "{now}", and said "{then}"'

    # Time

    def _time(self, record: Record, expired: bool, became: Standing) -> Iterator[Point]:
        if record.signed_at - self._now > CLOCKS_DIFFER:
            yield Point(
                "Time",
                (
                    f"it was signed at {moment_in_words(record.signed_at)}, and now it is "
                    f"{moment_in_words(self._now)}: one of the two clocks is wrong, and so "
                    "nobody can tell whether it has expired. Set the clock of this computer and "
                    "ask again",
                ),
                False,
            )
        elif expired:
            until = record.valid_until
            told = f"it expired: {until} was its last day. Sign it again"
            yield Point("Time", (told,), False, idle=True)
        else:
            left = record.runs - len(became.runs)
            runs = f"{counted(left, 'run')} of {record.runs} {'is' if left == 1 else 'are'} left"
            yield Point("Time", (f"it holds until {record.valid_until}; {runs}",))


def _is_note(path: Path) -> bool:
    try:
        return is_note(files.read(path))
    except (OSError, RecordError):
        return False


def _graver(move: Move, changed: Since) -> bool:
    """Whether a finding moved to the worse, or is no longer judged though no rule says so."""
    if move.direction == "gone":
        return move.criterion not in changed.rules
    return move.direction in ("worse", "new")


#: The mildest first.
VERDICTS = (
    "may proceed", "may proceed with conditions", "cannot be judged", "must not proceed",
)  # fmt: skip


def _absent_first(found: Verified) -> Verified:
    """What was not given now stands before everything else: it puts all that follows in doubt."""
    first = [point for point in found.points if point.subject == "Given now"]
    rest = [point for point in found.points if point.subject != "Given now"]
    return replace(found, points=(*first, *rest))
