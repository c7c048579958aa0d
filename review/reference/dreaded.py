"""What a name says of a substance that no file and no library has: some say how they harm.

The nearest name is no help then: who means silver acetylide does not mean silver.
"""

from __future__ import annotations

import re

#: Words in a name, with what is known of all that are called so (UN GHS data sheets, section 10;
#: Prudent Practices in the Laboratory (2011), from memory).
SAYS = (
    (r"acetylide|fulminat|azide\b|azid\b|diazo|styphnat|picrat|perchlorat|ozonide"
     r"|\w \w*peroxide|triiodide|trinitro|\btnt\b|\bpetn\b|\brdx\b|\bhmtd\b|\btatp\b|\btetryl\b",
     "what is called so explodes by itself, at a knock or when it dries"),
    (r"isocyanur|cyanuric chloride|chloroamide|halazone|dichlor\w*hydantoin|pool (?:chlorine )?tab",
     "it gives off chlorine with acid and water, and explodes with ammonia"),
    (r"(?:methyl|ethyl|propyl|butyl|phenyl) ?lithium|diethyl ?zinc|dimethyl ?zinc"
     r"|(?:methyl|ethyl|butyl) ?alumini?um",
     "it lights by itself in air and bursts with water"),
    (r"osmium tetr?oxide|tabun|sarin|soman|\bvx\b|mustard gas|dimethyl ?mercury|ricin",
     "traces of it blind or kill"),
)  # fmt: skip
FOUND = tuple((re.compile(words, re.I), harm) for words, harm in SAYS)


def dreaded(text: str, nearest: str = "") -> str:
    """How a substance harms, by its name; nothing where the nearest known name says so too.

    >>> dreaded("silver acetylide", "silver metal")
    'what is called so explodes by itself, at a knock or when it dries'
    >>> dreaded("hydrogn peroxide", "hydrogen peroxide"), dreaded("argn")
    ('', '')
    """
    return next(
        (harm for words, harm in FOUND if words.search(text) and not words.search(nearest)), ""
    )
