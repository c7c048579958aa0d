"""When two texts may name one person."""

from __future__ import annotations

import re
import unicodedata

_ADDRESS = re.compile(r"<([^<>]*)>")


def same_person(one: str, other: str) -> bool:
    """Whether two names, each perhaps with an address in <>, may mean one person.

    >>> same_person("Lab  Technician <a@lab.example>", "lab technician")
    True
    >>> same_person("teacher", "second teacher")
    False
    """
    (name, address), (name_2, address_2) = parted(one), parted(other)
    return alike(one, other) or bool(
        (name and alike(name, name_2)) or (address and alike(address, address_2))
    )


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
