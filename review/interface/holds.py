"""What an item is taken to hold of which the file states dimensions or that it is bought, and no
rating: the least that such parts of the trade are rated for, so no file states less of one."""

from __future__ import annotations

from review.scenario.models import ItemModel

#: Of glass, Pa gauge: a flask whose base is flat or may be (abraded borosilicate glass breaks in
#: bending at some 30 MPa, from memory, so that 2 mm on 85 mm breaks at 0.55 bar: a third of it), a
#: round one (a quarter of what flasks mostly bear from outside when they are evacuated), and tubes,
#: bottles, traps and taps up to half a litre (a base of 3 mm on a bore of 60 mm holds 0.6 bar at
#: 7 MPa). Common practice, no source.
FLAT, ROUND, NARROW = 0.2e5, 0.25e5, 0.5e5
#: The largest that counts as narrow, m3.
LARGEST_NARROW = 0.55e-3
#: Hoses and fittings of plastic, pumps; vessels and bottles of plastic (a flat base of 1.5 mm on
#: 60 mm yields at 0.5 bar, polypropylene from memory); lines and fittings of metal (half of what
#: the low end of metal tube fittings is), wider tubes; Pa gauge. Common practice, no source.
PLASTIC, PLASTIC_VESSEL, METAL_TUBE, METAL = 0.5e5, 0.2e5, 5e5, 1e5
#: A fitting of metal of which nobody says that it was bought: as what merely grips a tube.
UNSAID_FITTING = 2e5
#: A glass, quartz or ceramic tube of a bore up to this, m and Pa gauge: a wall of 0.5 mm on
#: 6 mm holds 10 bar at 7 MPa. A judgement.
SMALL_BORE, SMALL_TUBE = 6.1e-3, 2e5
#: What is made or altered at home, by its walls, Pa gauge (a judgement).
HOME_MADE = 0.1e5
#: Lowest pressure inside, Pa, of what is made to be evacuated: it is round and sound.
_EVACUATED = 1e4
_BOTTLES, _FLASKS = ("trap", "wash bottle"), ("flask", "finger")


def least_rated(item: ItemModel, kind: str, made: str, held: float | None = None) -> float:
    """Least gauge pressure that such an item is rated for, Pa.

    kind: of item; made: kind of its material, `glass`, `metal`, `polymer` or another; held: all
    that it can hold, m3, where it is known better than from the file.

    >>> glass = ItemModel(id="flask", kind="vessel", ends="round")
    >>> least_rated(glass, "vessel", "glass"), least_rated(glass, "line", "metal")
    (25000.0, 500000.0)
    """
    if item.home_made == "yes":
        return HOME_MADE
    flask = kind == "vessel" or any(word in item.kind.lower() for word in _FLASKS)
    if item.suction is not None or made == "polymer":
        return PLASTIC_VESSEL if flask or kind in _BOTTLES else PLASTIC
    if held is None:
        held = max(item.capacity or 0.0, (item.gas_volume or 0.0) + (item.liquid_volume or 0.0))
    wide = held > LARGEST_NARROW and (kind in _BOTTLES or kind == "junction")
    if made == "metal" and not flask and kind not in _BOTTLES:
        if kind == "junction" and item.home_made != "no":
            return UNSAID_FITTING
        return METAL_TUBE if kind in ("line", "junction", "check valve") else METAL
    if not flask and not wide:
        bore = item.inner_diameter
        tube = item.length is not None and bore is not None and bore <= SMALL_BORE
        return SMALL_TUBE if tube else NARROW
    evacuated = item.vacuum_rating is not None and item.vacuum_rating <= _EVACUATED
    return ROUND if item.ends == "round" or evacuated else FLAT
