"""The hose of a burner bears what EN 16436-1, class 1, says (0.2 bar, from memory)."""

import pytest

from review import loads
from tests.practice.setups import set_ups
from tests.support import shared_engine

NAME, MAINS = "blue vitriol dried over a small flame", "as: mains\n      pressure: 23 mbar gauge"
(SET_UP,) = (each.text for each in set_ups() if each.name == NAME)


@pytest.mark.parametrize(
    ("kind", "held", "grade"),
    [
        ("Bunsen burner", "as: mains, pressure: 50 mbar gauge", "acceptable"),
        ("Bunsen burner", "as: mains, pressure: 0.3 bar gauge", "unacceptable"),
        ("Bunsen burner", "as: mains", "undetermined"),
        ("Bunsen burner", "as: cylinder, volume: 10 L, pressure: 7 bar gauge", "unacceptable"),
        ("Bunsen burner", "as: cylinder, volume: 10 L, pressure: 7 bar gauge, "
         "regulator: 50 mbar gauge", "acceptable"),
        ("cartridge burner", "as: cylinder, volume: 0.4 L, pressure: 2 bar gauge", ""),
        ("propane torch", "as: cylinder, volume: 10 L, pressure: 7 bar gauge, "
         "regulator: 2 bar gauge", ""),
    ],
)  # fmt: skip
def test_a_burner_hangs_on_a_hose_that_bears_its_gas(kind: str, held: str, grade: str) -> None:
    text = SET_UP.replace("Bunsenbrenner", kind)
    changed = text.replace(f"held:\n      {MAINS}", f"held: {{{held}}}")
    findings = shared_engine().review(loads(changed)).findings
    found = {f.grade for f in findings if f.at == "hose of burner"}
    assert found == ({grade} if grade else set())
