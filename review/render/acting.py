"""Several conditions of a letter as one act: on one thing, or with the eye."""

from __future__ import annotations

from collections.abc import Iterable

from review.interface.result import Cause, Review
from review.render import words
from review.render.filling import named
from review.render.phrases import _NAMED

#: How an act begins and goes on that is done with the eye; and one for several of them.
LOOK, BOTH_TIMES = "Look at ", " before and after "
LOOK_AT = "Look at {} before and after each run; replace what gets soft or is attacked."

#: Words that turn what a clause asks.
_NOT = frozenset(("no", "not", "never", "none", "nobody", "nothing"))


def joined_acts(acts: Iterable[str]) -> str:
    """Several acts as one: what they are about, and each of their clauses once; not those that
    another says with more words.

    >>> joined_acts(["Propane: hood on; test joints.", "Hood on; no flame.", "Butane: hood on."])
    'Propane and butane: hood on; test joints; no flame.'
    >>> joined_acts(["Hood on; no flame near.", "Hood tested and on.", "No flame near, by 3 m."])
    'Hood tested and on; no flame near, by 3 m.'
    >>> joined_acts(["Purge, fuel, heat; heat off.", "Prove the purge before fuel or heat comes."])
    'Purge, fuel, heat; heat off; prove the purge before fuel or heat comes.'
    >>> joined_acts(["Shield; no flame.", "Shield or closed sash."])
    'Shield; no flame; shield or closed sash.'
    """
    parts = [text.rstrip(".").rpartition(": ") for text in acts]
    parts.sort(key=lambda part: not part[0])  # what names a thing comes first
    heads = dict.fromkeys(words.lower_first(head) for head, _, _ in parts if head)
    asks = dict.fromkeys(c for _, _, rest in parts for c in words.lower_first(rest).split("; "))
    each = [ask for ask in asks if not any(_says_more(other, ask) for other in asks)]
    about = f"{words.listed(heads)}: " if heads else ""
    return words.upper_first(f"{about}{'; '.join(each)}.")


def _says_more(longer: str, clause: str) -> bool:
    """Whether a clause stands in another as it is, or begins like it and has all of its words
    there and none that turns it or offers something else instead."""
    more, words_of = (text.replace(",", "").split() for text in (longer, clause))
    added = set(more) - set(words_of)
    if "or" in added and not _NOT & set(more):
        return False
    if longer.startswith((f"{clause},", f"{clause} ")):
        return True
    if not added or added & _NOT or not set(words_of) < set(more):
        return False
    return words_of[0] == more[0] or f" {clause} " in f" {longer} "


def looked_at(review: Review, met: dict[str, list[Cause]]) -> dict[str, list[Cause]]:
    """The same acts, with one for all that is looked at before and after each run."""
    looks = {
        text: causes for text, causes in met.items()
        if text.startswith(LOOK) and BOTH_TIMES in text
    }  # fmt: skip
    if len(looks) < 2:
        return met
    causes = [cause for several in looks.values() for cause in several]
    at = (review.findings[n].at for cause in causes for n in cause.findings)
    told = [named(review, place) for place in dict.fromkeys(filter(None, at))]
    more = [f"{len(told) - _NAMED} more"] if len(told) > _NAMED else []
    one = LOOK_AT.format(words.listed([*told[:_NAMED], *more]))
    merged: dict[str, list[Cause]] = {}
    for text, several in met.items():
        merged.setdefault(one if text in looks else text, []).extend(several)
    return merged
