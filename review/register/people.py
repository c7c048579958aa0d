"""When two texts may name one person."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

_ADDRESS = re.compile(r"<([^<>]*)>")
#: A word with an @ in it, without what encloses it.
_BARE_ADDRESS = re.compile(r"[^\s<>()\[\]{},;:\"']+@[^\s<>()\[\]{},;:\"']+")
#: Letters that look like a Latin one, once capitals are folded (from memory, the common ones), and
#: letters without any shape.
_LOOKS_LIKE = str.maketrans(
    "авекмнорстухіјѕһӏԁԛԝ" "ανικορτυχεσ" "łøı",
    "abekmhopctyxijshldqw" "avikoptuxec" "loi",
    "\u115f\u1160\u3164\uffa0",
)  # fmt: skip


def same_person(one: str, other: str) -> bool:
    """Whether two names, each perhaps with an address, may mean one person.

    Accents, points, the order of words and letters that look alike tell no two people apart, and
    neither do different names with one address. Who takes an invented name is not found out.

    >>> same_person("Lab  Technician <a@lab.example>", "technician, lab")
    True
    >>> same_person("teacher", "second teacher")
    False
    """
    return not _known_as(one).isdisjoint(_known_as(other))


def may_be_one(one: str, other: str) -> bool:
    """Whether two names share a surname and one gives an initial that fits the other's forename.

    >>> may_be_one("J. Example", "Jane Example"), may_be_one("Jane Example", "Joan Example")
    (True, False)
    >>> may_be_one("Example, J.", "jane example <j@lab.example>"), may_be_one("a b", "a c")
    (True, False)
    """
    first, second = (_words(_BARE_ADDRESS.sub(" ", _ADDRESS.sub(" ", t))) for t in (one, other))
    shared = {word for word in first if len(word) > 1} & set(second)
    fore = [[word for word in words if word not in shared] for words in (first, second)]
    return bool(shared) and any(
        a[0] == b[0] and 1 in (len(a), len(b)) for a in fore[0] for b in fore[1]
    )


def not_listed(reviewers: Sequence[str], print_: str) -> tuple[str, ...]:
    """Why a key may not review where a site lists the keys of its reviewers, in words.

    >>> not_listed((), ""), not_listed(("SHA256:abc",), "SHA256:abc")
    ((), ())
    """
    if not reviewers or print_ in reviewers:
        return ()
    if not print_:
        return ("the rules list reviewers by their keys, and no reviewer's key signs",)
    return (f"the rules list reviewers by their keys, and {print_} is none of them",)


def _known_as(text: str) -> set[str]:
    """A name's letters, in its order of words and in any, and each address."""
    plain = unicodedata.normalize("NFKC", text)
    addresses = {_folded(each) for each in _BARE_ADDRESS.findall(plain)}
    addresses |= {_folded(each) for each in _ADDRESS.findall(plain)}
    words = _words(_BARE_ADDRESS.sub(" ", _ADDRESS.sub(" ", plain)))
    names = {"".join(words), "".join(sorted(words))} if words or not addresses else set()
    return addresses | names


def _words(text: str) -> list[str]:
    apart = unicodedata.normalize("NFKD", _folded(text)).translate(_LOOKS_LIKE)
    bare = "".join(c for c in apart if not _is_mark(c))
    return "".join(c if unicodedata.category(c)[0] in "LNM" else " " for c in bare).split()


def _is_mark(c: str) -> bool:
    """An accent, or a sign that only says how to draw the letter before it."""
    return "\u0300" <= c <= "\u036f" or "\ufe00" <= c <= "\ufe0f" or c >= "\U000e0100"


def parted(text: str) -> tuple[str, str]:
    """A name without its address, and the address; "" for what is not there.

    >>> parted("teacher <t@lab.example>"), parted("teacher"), parted("t@lab.example")
    (('teacher', 't@lab.example'), ('teacher', ''), ('', 't@lab.example'))
    """
    found = _ADDRESS.search(text)
    if not found and "@" in text and len(text.split()) == 1:
        return "", text.strip()
    return " ".join(_ADDRESS.sub(" ", text).split()), found[1].strip() if found else ""


def alike(one: str, other: str) -> bool:
    """Whether two texts differ only in capitals, spaces or the way their letters are encoded."""
    return _folded(one) == _folded(other)


def _folded(text: str) -> str:
    plain = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    return " ".join(plain.split())
