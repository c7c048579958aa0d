"""Which flows may go on when something fails, because they neither burn, oxidise nor poison.

All of it is general trade practice: common practice, no source. In doubt a flow is not inert and is
shut like what burns or poisons.
"""

from __future__ import annotations

from collections.abc import Callable

from review import Scenario

#: By name or formula; whatever is called otherwise is shut like what burns or poisons.
INERT = frozenset({"nitrogen", "argon", "helium", "n2", "ar", "he"})
#: Hot, these burn in nitrogen to nitrides.
BURN_IN_NITROGEN = frozenset(
    {"lithium", "magnesium", "calcium", "strontium", "barium", "titanium", "zirconium",
     "li", "mg", "ca", "sr", "ba", "ti", "zr"}
)  # fmt: skip
#: Liquids, and what is dissolved in them, that give gas no vapour that burns or poisons.
HARMLESS_VAPOUR = frozenset(
    {"water", "h2o", "sulfuric acid", "h2so4", "phosphoric acid", "sodium hydroxide", "naoh",
     "potassium hydroxide", "koh", "sodium chloride", "glycerol", "paraffin oil", "mineral oil",
     "silicone oil"}
)  # fmt: skip


def inert_flows(scenario: Scenario) -> list[str]:
    """The flows that are inert gas and still are when they meet what is hot.

    Gas that passes a liquid whose vapour burns or poisons is a feed, whatever it was before: in a
    saturator it carries the fuel. Behind all that is hot, or on a liquid that is heated itself, it
    is not: there it keeps air out. A liquid that is said to absorb something is a wash bottle
    where nothing hot comes after it.
    """
    present = {_plain(n) for reagent in scenario.reagents.values() for n in reagent.composition}
    metals = present & BURN_IN_NITROGEN
    gases = INERT - {"nitrogen", "n2"} if metals else INERT
    return [
        name
        for name, flow in scenario.flows.items()
        if (reagent := scenario.reagents[flow.reagent]).state == "gas"
        and {_plain(n) for n in reagent.composition} <= gases
        and not _carries(scenario, flow.into)
    ]


def has_vapour(scenario: Scenario) -> bool:
    """Whether a liquid stands in the train that may give off something that burns or poisons."""
    return any(_gives_vapour(scenario, item.liquid) for item in scenario.train)


def _carries(scenario: Scenario, into: str) -> bool:
    """Whether gas fed in at an item takes up a vapour before, or without, meeting what is hot."""
    hot = {heat.heats for heat in scenario.heat.values()}
    hot |= {catalyst.in_ for catalyst in scenario.catalysts.values()}
    hot |= {item.id for item in scenario.train if item.reactions}
    follow = followers(scenario)
    for item in scenario.train:
        if not _gives_vapour(scenario, item.liquid) or item.id not in follow(into):
            continue
        hot_after = hot & (follow(item.id) - {item.id})
        hot_before = any(item.id in follow(other) for other in hot)
        if hot_after or not (hot_before or item.absorbs):
            return True
    return False


def _gives_vapour(scenario: Scenario, liquid: str | None) -> bool:
    if liquid is None:
        return False
    reagent = scenario.reagents.get(liquid)
    held = {_plain(name) for name in (reagent.composition if reagent else [liquid])}
    # Steam is a feed where a reaction uses it up.
    used = any(
        "H2O" in reaction.equation.split("->")[0]
        for i in scenario.train
        for reaction in i.reactions
    )
    harmless = HARMLESS_VAPOUR - {"water", "h2o"} if used else HARMLESS_VAPOUR
    return not held <= harmless


def followers(scenario: Scenario) -> Callable[[str], set[str]]:
    """A function that says what gas fed in at an item passes, that item included."""
    above = {item.id: scenario.above(item.id) for item in scenario.train}

    def follow(start: str) -> set[str]:
        return {start, *(name for name, before in above.items() if start in before)}

    return follow


def _plain(name: str) -> str:
    return name.strip().lower()
