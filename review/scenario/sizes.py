"""Trade sizes: `hose 8x12`, `NS 14/23` or `250 mL round flask` in place of an item's dimensions."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import yaml

from review.scenario import units
from review.scenario.errors import Misspelt, nearest, quoted
from review.scenario.words import built_in_folder, folded

FILE = "sizes.yaml"
EXAMPLES = ("hose 8x12", "glass tube 10x1", "NS 14/23", "250 mL round flask")

_BORE = re.compile(
    r"(?P<what>[a-z][a-z -]*?)\s+(?P<a>\d+(?:\.\d+)?)\s*(?:mm)?\s*[x\u00d7]\s*"
    r"(?P<b>\d+(?:\.\d+)?)\s*(?:mm)?"
)
_TEST_TUBE = re.compile(
    r"(?P<what>(?:test|boiling|ignition|culture) tube)\s+(?P<a>\d+(?:\.\d+)?)\s*(?:mm)?\s*"
    r"[x\u00d7]\s*(?P<b>\d+(?:\.\d+)?)\s*(?:mm)?"
)
_INCH = re.compile(
    r"(?:[a-z][a-z -]*?\s+)?(?P<a>1/8|1/4|3/8|1/2)\s*(?:\"|\u2033|''|inch|in)"
    r"(?:\s+(?:tube|tubing))?"
)
#: What is called by its bore in inches, not by its outside diameter (common practice, no source).
_BY_BORE = re.compile(
    "hose|schlauch|pipe|npt|thread|rubber|silicone|pvc|latex|neoprene|viton|epdm|fkm|nbr", re.I
)
#: Outside diameter and thinnest usual wall of tube for ring fittings by its size in inches, mm
#: (ASTM A269, walls of 0.028, 0.035, 0.035 and 0.035 inch, from memory).
_INCHES = {"1/8": (3.18, 0.71), "1/4": (6.35, 0.89), "3/8": (9.53, 0.89), "1/2": (12.7, 0.89)}
_TAPER = re.compile(r"(?:ns|st|\$|standard taper|ground joint)?\s*(\d+/\d+)")
_VESSEL = re.compile(r"(?P<capacity>\d+(?:\.\d+)?\s*(?:ml|l))\s+(?P<what>.+)")
_CONDENSER = re.compile(
    r"(?:(?P<before>\d+) ?mm )?(?P<what>[a-z ]*condenser),?(?: (?P<length>\d+) ?mm)?"
)
#: Narrowest bore and thinnest wall of a condenser's inner tube, mm (common practice, no source).
CONDENSER_BORE, CONDENSER_WALL = 8, 1
_CAPACITY = re.compile(r"\d+(?:\.\d+)?\s*(?:ml|l)")
#: What glassware is made of where neither the file nor its trade says which glass: the worst.
GLASS = "glass"
#: What a tube is of that is called by the name of its substance; a packing of that name is grains.
_AS_A_WALL = dict.fromkeys(
    ("alumina", "aluminium oxide", "aluminum oxide", "al2o3"), "alumina ceramic"
)
#: A vessel of a trade size is bought; what is made or altered at home has dimensions of its own.
BOUGHT = {"home_made": "no"}
_SOME_GLASS = ("glass", "laboratory glass", "plain glass", "glassware", "pyrex", "glas")
#: A hose for vacuum has walls as thick as its bore; what is more is no bore and outside diameter.
MOST_OUTSIDE = 4.0
_HOSES = ("hose", "tubing", "rubber hose", "silicone hose", "pvc hose", "vacuum hose", "soft hose")


def filled(given: Mapping[str, Any]) -> dict[str, Any]:
    """An item's entry with what its `size` says; what the entry states itself stays.

    >>> filled({"size": "hose 8x12"})["inner_diameter"], filled({"size": "glass tube 10x1"})["wall"]
    ('8 mm', '1 mm')
    >>> filled({"outer_diameter": "6 mm", "inner_diameter": "4 mm"})["wall"]
    '1 mm'
    >>> filled({"kind": "Rundkolben", "size": "250 mL Rundkolben"})["size"]
    '250 mL round flask'

    Raises Misspelt where no trade size has that name.
    """
    said = dict(given)
    said |= {key: _english(said[key]) for key in ("kind", "size") if isinstance(said.get(key), str)}
    size = said.get("size")
    wall = _AS_A_WALL.get(folded(str(given.get("material", ""))))
    said |= {"material": wall} if wall else {}
    if not isinstance(size, str) or not size:
        return said | _between(said)
    if _INCH.fullmatch(size.strip().lower()) and not {"inner_diameter", "wall"} <= said.keys():
        _called_by_outside(" ".join(str(said.get(key, "")) for key in ("kind", "material")))
    sold = _read(size)
    if folded(str(given.get("material", ""))) in _SOME_GLASS:
        said.pop("material" if "material" in sold else "")
    return {**sold, **said} | _between({**sold, **said})


def _between(said: Mapping[str, Any]) -> dict[str, str]:
    """The wall between a stated bore and outside diameter, or the bore between wall and outside."""
    missing = [key for key in ("inner_diameter", "wall") if key not in said]
    if "outer_diameter" not in said or len(missing) != 1:
        return {}
    known = "wall" if missing == ["inner_diameter"] else "inner_diameter"
    try:
        outside = units.parse(str(said["outer_diameter"]), "length")
        other = units.parse(str(said[known]), "length")
    except ValueError:  # told at the number itself
        return {}
    left = outside - 2 * other if known == "wall" else (outside - other) / 2
    return {missing[0]: f"{1e3 * left:.6g} mm"} if left > 0 else {}


def _english(text: str) -> str:
    """What a German word for an item stands for, also beside its measures; else the text."""
    words = _german()
    whole = words.get(folded(text))
    return whole or " ".join(words.get(folded(each), each) for each in text.split(" "))


@cache
def _german() -> dict[str, str]:
    return {folded(german): english for german, english in _table()["german"].items()}


def sold_in(size: str, *, of_glass: bool = True) -> str:
    """What a vessel of a trade size is made of, where it is sold in one glass alone; else ''.

    Beakers are sold of plastic too: one that is not `of_glass` is of what the file says.

    >>> sold_in("250 mL round flask"), sold_in("hose 8x12")
    ('borosilicate glass 3.3', '')
    """
    match = _VESSEL.fullmatch(size.strip().lower())
    if match is None:
        return ""
    ware = _vessels()[folded(match["what"])]
    return str(ware.get("material", ware.get("usual", "") if of_glass else ""))


def other_glass(size: str, material: str) -> str:
    """What to write instead of a trade size for another material than its own."""
    return (
        f'a "{size}" is a trade size of {sold_in(size)}: for {material} write "capacity", '
        '"inner_diameter" and "wall" instead'
    )


def sold(text: str) -> str:
    """The size itself; Misspelt where no trade size has that name."""
    _read(text)
    return text


def _read(text: str) -> dict[str, str]:
    plain = text.strip().lower()
    readers: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], dict[str, str]]], ...] = (
        (_TAPER, _joint), (_TEST_TUBE, _test_tube), (_INCH, _inch_tube), (_BORE, _tube),
        (_CONDENSER, _condenser),
        (_VESSEL, _vessel), (_CAPACITY, _capacity),
    )  # fmt: skip
    for pattern, read in readers:
        match = pattern.fullmatch(plain)
        if match:
            return read(match)
    raise Misspelt(f"{quoted(text)} is no trade size: write for example '{EXAMPLES[0]}', "
                   f"'{EXAMPLES[1]}', '{EXAMPLES[2]}' or '{EXAMPLES[3]}'")  # fmt: skip


def _tube(match: re.Match[str]) -> dict[str, str]:
    """Bore and wall; which number is which follows from what is sold and from their ratio."""
    a, b = float(match["a"]), float(match["b"])
    if a <= 0 or b <= 0 or a == b:
        raise Misspelt(f"{quoted(match[0])} leaves no bore or no wall")
    if b > MOST_OUTSIDE * a:
        raise Misspelt(
            f"{quoted(match[0])} would be nearly all wall: if it is diameter x length, write "
            "'inner_diameter', 'wall' and 'length'"
        )
    if b > a:  # bore x outside diameter
        bore, wall = a, (b - a) / 2
    elif match["what"] in _HOSES:  # bore x wall
        bore, wall = a, b
    elif b < a / 2:  # outside diameter x wall
        bore, wall = a - 2 * b, b
    else:  # outside diameter x bore
        bore, wall = b, (a - b) / 2
    glass = {"material": GLASS} if match["what"] in ("glass tube", "glass tubing") else {}
    return {"inner_diameter": f"{bore:g} mm", "wall": f"{wall:g} mm", **glass}


def _inch_tube(match: re.Match[str]) -> dict[str, str]:
    """A tube called by its outside diameter alone: with the thinnest wall it is sold in."""
    _called_by_outside(match[0])
    outside, wall = _INCHES[match["a"]]
    return {"inner_diameter": f"{outside - 2 * wall:.3g} mm", "wall": f"{wall:g} mm"}


def _called_by_outside(words: str) -> None:
    if _BY_BORE.search(words):
        raise Misspelt(
            "hose and pipe are called by their bore in inches, tube by its outside diameter: write "
            "bore x outside diameter in mm, such as 'hose 6x9'"
        )


def _test_tube(match: re.Match[str]) -> dict[str, str]:
    """Outside diameter x length, as ISO 4142 has them; the thinnest wall is from memory."""
    outside, length = float(match["a"]), float(match["b"])
    wall = 0.8 if outside >= 12 else 0.5
    bore = outside - 2 * wall
    if bore <= 0 or length <= outside:
        raise Misspelt(f"{quoted(match[0])} is no test tube: outside diameter x length, '16x160'")
    volume = 0.25 * math.pi * bore**2 * (length - outside) / 1e3
    return {
        "inner_diameter": f"{bore:g} mm", "wall": f"{wall:g} mm", "length": f"{length:g} mm",
        "ends": "round", "material": GLASS, "capacity": f"{volume:.3g} mL", **BOUGHT,
    }  # fmt: skip


def _condenser(match: re.Match[str]) -> dict[str, str]:
    """A glass condenser by the length of its jacket."""
    length = match["before"] or match["length"]
    if not length or not 100 <= float(length) <= 1000:
        raise Misspelt(f"write the length of the jacket, such as '400 mm {match['what'].strip()}'")
    return {
        "inner_diameter": f"{CONDENSER_BORE} mm", "wall": f"{CONDENSER_WALL} mm",
        "length": f"{length} mm", "ends": "open", "material": "borosilicate glass 3.3", **BOUGHT,
    }  # fmt: skip


def bought(size: str) -> bool:
    """Whether a trade size is that of a bought vessel.

    >>> bought("250 mL round flask"), bought("glass tube 10x1"), bought("test tube 16x160")
    (True, False, True)
    """
    return _read(size).items() >= BOUGHT.items()


def _joint(match: re.Match[str]) -> dict[str, str]:
    known: list[str] = _table()["joints"]
    if match[1] not in known:
        raise Misspelt(
            f"there is no ground joint {quoted(match[1])}: known are {', '.join(known)}",
            nearest(match[1], known),
        )
    return {"joint": "ground taper joint"}


def _capacity(match: re.Match[str]) -> dict[str, str]:
    return {"capacity": match[0].replace("l", "L")}


def _vessel(match: re.Match[str]) -> dict[str, str]:
    ware = _vessels().get(folded(match["what"]))
    if ware is None:
        known = ", ".join(_table()["vessels"])
        raise Misspelt(
            f"no trade size is known for a {quoted(match['what'])}: known are {known}; of others "
            'write the "capacity"',
            nearest(match["what"], _vessels()),
        )
    capacity = match["capacity"].replace("l", "L")
    litres = units.parse(capacity, "volume") * 1e6
    diameters: dict[str, str] = ware["diameter"]
    if f"{litres:g}" not in diameters:
        raise Misspelt(
            f"a {ware['name']} is sold with {', '.join(diameters)} mL, not {litres:g} mL"
        )
    found = {"capacity": f"{litres:g} mL", "ends": ware["ends"], **BOUGHT}
    found["material"] = ware.get("material", ware.get("usual", GLASS))
    for key, sizes in (("inner_diameter", diameters), ("wall", ware["wall"])):
        size = sizes[f"{litres:g}"]
        if size != "none":
            found[key] = f"{size} mm"
    return found


@cache
def _vessels() -> dict[str, dict[str, Any]]:
    """What is known of each vessel of the trade, by every name it has."""
    vessels: dict[str, dict[str, Any]] = _table()["vessels"]
    return {
        folded(name): {"name": ware, **told}
        for ware, told in vessels.items()
        for name in (ware, *told["synonyms"])
    }


@cache
def _table() -> Any:
    path = built_in_folder() / FILE
    return yaml.load(path.read_text("utf-8"), Loader=yaml.BaseLoader)
