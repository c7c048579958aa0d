"""What verifying a record or a register says, in words."""

from __future__ import annotations

from datetime import UTC, datetime

from review.register.verified import Verified
from review.render.words import counted

#: What it means that no key signs a record.
UNSIGNED = (
    "Without keys, nothing shows who typed the two names, and a register shows only accidents and "
    "hasty edits. Whoever can write the folder can replace the whole of it, and nothing in it "
    "would show that; a copy kept elsewhere would."
)


#: What keys do not show.
SIGNED = (
    "Keys show that what they sign was not changed. That the newest records were taken away "
    "together with their place in the head, only a copy kept elsewhere would show."
)


HEAD = "head.json"


def unchecked(key: str, who: str) -> str:
    return (
        f"a signature is there and fits, made with {key}, by {who} as the record claims. "
        "Whose key that is was not checked: add --allowed-signers"
    )


def whose_key(principal: str, pattern: str) -> str:
    if pattern:
        return (
            f"signed with a key that is allowed for everybody who fits '{pattern}', and so for "
            f"{principal}; who of them it was, nothing shows"
        )
    return f"signed by {principal}, whose key is allowed"


WHOSE = (
    "whose the keys are that sign here was not checked, only that they fit: add --allowed-signers"
)


ALONE = f"no {HEAD} is beside it, so its place among other records was not looked at"


NOT_TOLD = (
    "whether it was withdrawn or its runs are used up, a copy by itself cannot tell: ask where its "
    "register is"
)


#: More causes than these are told once, not with every finding.
_MOST_CAUSES = 2


_NOTHING_CHANGED = "Nothing that the record names has changed, so this is a fault of benchgate"


def because(causes: tuple[str, ...]) -> str:
    if not causes:
        return f"{_NOTHING_CHANGED}."
    if len(causes) > _MOST_CAUSES:
        return "Because of one or more of what is listed under 'Changed since'."
    if len(causes) == 1:
        return f"Because: {causes[0]}."
    return f"Because of one or more of these: {'; '.join(causes)}."


def moment_in_words(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"


def in_disorder(problems: tuple[str, ...]) -> tuple[str, ...]:
    return (
        "it is not in order. Rely on none of it until somebody has found out why; a copy kept "
        "elsewhere may tell:",
        *problems,
    )


def in_order(found: list[Verified], noted: int, notes: tuple[str, ...]) -> tuple[str, ...]:
    also = f" and {counted(noted, 'later note')}" if noted else ""
    return (f"{counted(len(found), 'record')}{also}, chained without a gap", *notes)
