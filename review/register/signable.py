"""Whether anybody could have signed what a record says; who writes one by hand is not asked."""

from __future__ import annotations

from datetime import timedelta

from review.interface.result import Review
from review.register.questions import LONGEST_VALIDITY, Signing, questions, refusals
from review.register.record import Record

#: What stands for a condition or an answer that the record lacks; that is told by itself.
_SETTLED = "looked at by itself"
#: The last day is reckoned where somebody signs, which may be a day ahead of UTC.
_ZONES = timedelta(days=1)


def not_signable(record: Record, review: Review) -> tuple[str, ...]:
    """Why nobody could sign this record with today's review, in words.

    What is asked today and was not confirmed then is not told here.
    """
    asked = questions(review)
    said = {each["id"]: str(each["confirmed"]) for each in record.data["conditions"]}
    answered = {each["id"]: (each["role"], each["reason"]) for each in record.data["answers"]}
    signing = Signing(
        record.preparer,
        record.reviewer,
        record.signed_at.date(),
        record.runs,
        {q.id: said.get(q.id, _SETTLED) for q in asked if not q.open},
        {q.id: answered.get(q.id, (_SETTLED, _SETTLED)) for q in asked if q.open},
        record.second,  # type: ignore[arg-type]
        told_apart=True,
    )
    found = refusals(review, signing, record.signed_at)
    last = record.signed_at.date() + LONGEST_VALIDITY + _ZONES
    if record.valid_until > last:
        longest = f"nobody can sign for more than {LONGEST_VALIDITY.days} days"
        found = (*found, f"it holds until {record.valid_until}, but {longest}")
    return found
