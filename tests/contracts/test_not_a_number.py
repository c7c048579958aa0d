"""A comparison with what may be NaN takes the hazardous branch: no bare `>` that NaN would pass by.

NaN makes every comparison false. `x > limit` then reads as 'not above', the harmless answer, so
that `~(x <= limit)` is written. Every `>` and `>=` of the checks and of the walk is looked at here;
those that may stay are listed with the reason.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FILES = sorted([*(ROOT / "plugins").rglob("*.py"), *(ROOT / "review" / "walk").rglob("*.py")])
#: What is never NaN, by what stands in the comparison.
NEVER_NAN = {
    r"moving|leaves|exposed|resting|reach|\bopen\w*|\blast\b|blocked|outward|pulled|sealed": (
        "1 or 0 from the walk"
    ),
    r"held > 0|delivered|failed|wrong_scale|stays_on|at_most_share|chosen|escapes|complete": (
        "1 or 0 that only failures and steps set"
    ),
    r"\bon > 0|most > 0|_poured|which|working|number\(path\)|converged|heads|open_here": (
        "1 or 0 that only failures and steps set"
    ),
    r"status|MISSING|\blen\(|\.size|cell|number > start|trials|coefficient|\bn\b|routes|net\(": (
        "a status or a count"
    ),
    r"moves\[|running|due >|drawn\.on|HALF|MOSTLY_GAS|over >|step >|made >": (
        "1 or 0 of a pump, a share or a time of the file"
    ),
    r"still|indirect\(|near > 0|found > 0|REACH|LOWEST|away\.value|warned|m\.value": (
        "NaN earns no easing: it is not still, not far, not led away, not warned of"
    ),
    r"alone|estimated|LOW_LOC|LIMIT_TEMPERATURE|claimed|datum\.value|liquid\.get": "data",
    r"stacked\('pressure'\)|keeps|counted|longest|rivals|room\.air|molar|fractions\[": (
        "data, or its NaN is asked before"
    ),
}


#: Comparisons that NaN sends the hazardous way, or into NaN, each with its reason.
FINE = {
    "least >= STRENGTH": "what is not known counts as strong",
    "apart > SAME_GAS": "what is not known may be the same gas",
    "used.value > SPENT": "what is not known stays not known",
    "part.value >= OFF_BY * known": "what is not known is not sure",
    "np.asarray(ways.get((j, k), 1.0)) > 0": "1 or 0 from the positions of valves",
    "np.arange(self.shape[0])[:, None] >= self.runs.start": "numbers of steps",
    "setup.number(f'catalysts.{name}.light_off').value >= SLOW_LIGHT_OFF": "not a number is early",
    "idlh >= MILD": "a datum that is not known is None",
    "over.value > COMES_APART / 2": "what is not known stays not known",
    "margin.value >= LEAN": "what is not known is not lean",
    "trap.coldest.value >= coldest": "what is not known may be as cold as liquid nitrogen",
    "lowest >= HARD_TO_LIGHT": "not a number is not hard to light",
    "np.nan_to_num(place.number(name).value) > 0": "1 or 0 that only failures set",
    "number(f'heat.{name}.at_hottest').value > 0": "1 or 0 that only failures set",
    "number(f'flows.{name}.gas_of.{other}') > 0": "1 or 0 that only failures set",
    "view.get('ends_here') > 0": "1 or 0 that a step or a failure sets",
    "kind.holds_back(view) > 0": "1 or 0 by its kind",
    "graph.kinds[k].holds_back(flow.views[k]) > 0": "1 or 0 by its kind",
    "graph.kinds[i].holds_back(flow.views[i]) > 0": "1 or 0 by its kind",
    "at.number(f'train.{graph.ids[k]}.pushed_back') > 0": "1 or 0 that only failures set",
    "kind.seal_head(view) >= out[i]": "an unknown head holds nothing",
    "way > 0": "1 or 0 by the valve's position",
    "moves[j] > 0": "1 or 0 from the balance",
    "gust[k] > 0": "a wind that only failures set",
    "gust[i] > 0": "a wind that only failures set",
    "np.array([k.holds_back(v) for k, v in zip(graph.kinds, views, strict=True)]) > 0": (
        "1 or 0 by its kind"
    ),
    "known > 0": "a heat that is not known counts as the least there is",
    "poured[n] <= total": "a rate that is not known stays so",
    "least > total": "a rate that is not known stays so",
    "margin > 0": "NaN is not known to be too lean to burn",
    "nu > 0": "a coefficient",
    "shares.get(name, 0.0) > 0": "shares from the file",
    "water > WET": "shares from the file",
    "water >= BOILS_BELOW": "shares from the file",
    "rise > best[0]": "of a NaN heat the first stays, which is NaN too",
    "m.height >= HANGS * clamp.height": "figures of the file",
    "c.height >= clamp.height": "figures of the file",
    "dry[0] > LEAST": "shares from the file",
    "one.amount >= COVERS": "NaN covers nothing",
    "rest >= 1": "shares from the file",
    "one > 0": "of NaN moles the capacity itself is NaN",
    "two > 0": "of NaN moles the capacity itself is NaN",
    "burns >= FUEL_OUTLET": "shares from the file",
    "oxygen > LIKE_AIR[1]": "shares from the file",
    "there >= DILUTE_MARGIN * thin.value": "NaN is not thinned out",
    "there >= thin.value": "NaN is not thinned out",
    "share >= MELTS": "a mass fraction of the file",
    "(scenario.operators or 0) > 1": "a count",
    "mouth >= GAPES": "a mouth nobody knows is not wide open",
    "mass > 0": "of a NaN mass nothing is known to bind",
    "distance > 0": "of NaN the ratio is set to NaN",
    "margin > NEARLY": "NaN boils",
    "vapour >= 1": "of NaN all of it condenses",
    "cold > boils": "of NaN all of it condenses",
    "_airy(setup, share) > 0": "1 or 0; of a NaN share all condenses anyway",
    "np.minimum(share[index['oxygen']], share[index['nitrogen']]) > 0": (
        "of a NaN share all condenses anyway"
    ),
    "substance.number('boiling_point') > room": "NaN counts as gas when it warms",
    "end.value > setup.number('ambient.pressure').value": "NaN stays NaN",
    "place.pressure.value >= ambient.value - NOTICED": "NaN is looked at",
    "start > hold.number": "steps of the file",
    "left_out >= hold.number": "steps of the file",
    "np.arange(self.shape[0])[:, None] >= self.runs.start[None, :]": "steps of the file",
    "total >= physics.NEARLY_BOILING * on_it": "of NaN the rate is NaN",
    "partial.sum(axis=0) > 0": "a divisor",
    "needed > 0": "of NaN the heat is NaN, and all of it counts as gas",
    "kind.held_liquid(view) > 0": "a liquid without an amount is undetermined by itself",
    "condensed[i] >= outlet[i] * (1 - WHOLE)": "of NaN the rest is NaN",
    "setup.number('ventilation.room_volume').value > 0": "NaN earns no credit",
    "setup.number('ventilation.air_changes').value >= AIRED": "NaN earns no credit",
    "own > 0": "NaN is asked beside it",
    "tame > 0": "1 or 0",
    "length >= LENGTH * channel": "NaN earns no credit",
    "length >= LEAST_LENGTH": "NaN earns no credit",
    "p >= PRESSURE[0]": "NaN earns no credit",
    "t >= TEMPERATURE[0]": "NaN earns no credit",
    "margins[place.id] >= 0": "NaN burns",
    "v > 0": "NaN is asked beside it",
    "rated.value > 1": "NaN stays NaN, and no better",
    "quantity.value > 0": "NaN earns no rule of its own",
    "total > 0": "a divisor: NaN divided by 1 is NaN",
    "dry_total > 0": "a divisor",
    "gas.total > 0": "a divisor",
    "k_gas > 0": "a divisor",
    "fuel.value > 0": "a boundary of a fuel that is NaN is missing by its status",
    "share > 0": "of NaN the rate stays NaN",
    "rate > 0": "of NaN the rate stays NaN",
    "gas > 0": "a mean over what is there: NaN stays in the sum",
    "right > left": "a slope between known limits",
    "left > 0": "NaN room is NaN",
    "left > 1": "a count of pieces",
    "places >= 0": "a root outside the line is no place on it",
    "proven > 0": "NaN earns no credit",
    "v >= 0.3": "NaN earns no credit",
    "v > 0.6": "NaN earns no credit",
    "found >= point": "NaN is not noticed by a detector",
    "head >= pressure": "NaN pressure is not held by a seal",
    "length > 0": "an unknown length cools nothing",
    "rise > 0": "of a NaN rise the time is NaN by its status",
    "supply - p0 > lowest": "NaN is asked before",
    "least > 0": "beside the question whether it is unknown",
    "fuel > 1": "NaN is asked beside it",
    "oxygen > allowed": "NaN is asked beside it",
    "ratio.value > 1": "sure only where it is known",
    "np.fmin(lean.value, rich.value) >= 1": "sure only where it is known",
    "held > 0": "0 times NaN is NaN",
    "coldest.value > pair.below": "only leaves out where it is known",
    "f[1] >= f[0]": "which end is rich: NaN ends are missing",
    "dissolved >= IN_LIQUID": "shares from the file",
    "a.efficiency > 0": "a figure of the file",
    "against > 0": "1 where something stands against it",
    "item.temperature > above": "a figure of the file",
    "takes > ROUNDED * amount.value": "figures of the file",
    "most > ROUNDED * flow.at_most.value": "molar masses and figures of the file",
    "gone > WHOLE": "shares from the file",
    "surface >= ignition - CLOSE": "the function of a method: the status is carried",
    "ignition > 273.15": "the function of a method: the status is carried",
    "gas.ndim > 3": "a count",
    "cold > curve.high": "of NaN the pressure is NaN",
    "content > 0": "NaN is asked beside it",
    "duration > 0": "a figure of the file",
    "total >= physics.NEARLY_BOILING * at.ambient_pressure": "of NaN the rate is NaN",
    "partial.sum(axis=0) >= physics.NEARLY_BOILING * pressure": "of NaN the vapour is NaN",
    "top >= pressure": "past the curve nothing is capped",
    "view.get('cooling') > 0": "unstated cooling takes nothing back",
    "flow[k] > 0": "of NaN the need is NaN, and nothing is taken back",
    "enough >= 1": "NaN is not enough",
    "np.where(rate > 0, rate * at.duration, 0.0) > left * (1 + 1e-09)": "of NaN the rate is NaN",
    "boils.wet[i] > 0": "1 or 0 from the balance",
    "flow.start.outlet[i].sum(axis=0) > 0": "of NaN the rate stays",
    "full >= 1 - 1e-09": "NaN stays in the share",
    "full > 0": "a divisor",
    "mass > AIR_MOLAR_MASS": "NaN earns no slower evaporation",
    "volume > 0": "of NaN it is NaN",
    "graph.kinds[k].seal_head(view) > 0": "an unknown head seals nothing",
    "given > moles * AS_GOOD_AS": "figures of the file",
    "comes > 0": "of NaN it comes without limit",
    "takes >= capacity * (gas - middle)": "of NaN it is as hot as it boils",
    "bulb > 0": "of NaN it is as hot as anything here",
    "found >= 0": "of NaN it is without limit",
    "moles.get('water', 0.0) >= WATERY * sum(moles.values())": "of NaN it counts as unmixed",
    "around.air > 0": "data",
    "gas / flow.boiling.points[j] > air": "NaN keeps no air out",
    "now > 0": "shares from the balance",
    "loss > 0": "where a loss is NaN the shares stay, and are not believed",
    "now > NOTHING * whole": "shares from the balance",
    "around.ways.get((i, k), 1.0) > 0": "1 or 0 by the step",
    "around.ways.get((j, i), 1.0) > 0": "1 or 0 by the step",
    "moved > 0.01": "a pressure that is NaN is missing by itself, wherever it is read",
    "np.abs(x[0] * f[1] - x[1] * f[0]) > 1e-12 * np.abs(x[0] * f[1])": "NaN ends are missing",
    "start[rows].sum(axis=0) >= end[rows].sum(axis=0)": "picks one of two gases, NaN in both",
    "insulation_flux(th, middle, k, d, t) > loses": "bisection: NaN stays at its upper end",
    "kind.seal_head(view) > 0": "an unknown head seals nothing",
    "np.abs(factor - 1) > 0.01": "a figure of the data",
    "np.abs(calibration_mass / mass - 1) > 0.01": "figures of the data",
    "np.maximum(start_gas, start_wall) > ambient + 1.0": "NaN earns no cooling",
    "outlet.sum(axis=1) >= inlet.sum(axis=1)": "picks the larger flow, NaN in both",
    "np.diff(trial[largest], prepend=-1) > 0": "numbers of trials, never NaN",
    "liquid[k] > 0": "what nobody knows is not taken out",
    "ways > 0": "what nobody knows is shut on purpose, and its warming counts",
}


def bare(tree: ast.AST) -> Iterator[ast.Compare]:
    """`>` and `>=` outside `~(…)`, `not …` and the functions of methods, which carry the status."""
    within: set[ast.AST] = set()
    for node in ast.walk(tree):
        turned = isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Invert)
        if turned or isinstance(node, ast.Lambda):
            within |= set(ast.walk(node))
    for node in ast.walk(tree):
        if not isinstance(node, ast.Compare) or node in within:
            continue
        if any(isinstance(op, ast.Gt | ast.GtE) for op in node.ops):
            yield node


def unexplained(text: str) -> list[str]:
    found = []
    for node in bare(ast.parse(text)):
        said = ast.unparse(node)
        if said not in FINE and not any(re.search(pattern, said) for pattern in NEVER_NAN):
            found.append(f"{node.lineno}: {said}")
    return found


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))
def test_no_bare_comparison_that_nan_passes_by(file: Path) -> None:
    assert unexplained(file.read_text("utf-8")) == []


@pytest.mark.parametrize("text", ["present = highest[row] > TRACE", "np.where(x >= limit, 1, 0)"])
def test_the_pattern_is_found(text: str) -> None:
    assert unexplained(text)


@pytest.mark.parametrize("text", ["present = ~(x <= TRACE)", "absent = x <= TRACE", "~(x > 1)"])
def test_what_nan_turns_to_the_hazard_is_fine(text: str) -> None:
    assert not unexplained(text)
