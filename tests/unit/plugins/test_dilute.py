"""Gas that burns in no amount of air (ISO 10156), and what burns away without pressure."""

from __future__ import annotations

import numpy as np
import pytest
from review.plugins.flammability.ignition import nearness
from review.plugins.shared.dilute import Dilute
from review.plugins.shared.fuels import limits_of

from review import FloatArray, Reference

SPECIES = tuple(
    Reference().substance(n)
    for n in (
        "hydrogen", "methane", "ammonia", "acetylene", "carbon monoxide", "nitric oxide",
        "oxygen", "nitrogen", "argon", "carbon dioxide", "helium", "hydrazine",
    )
)  # fmt: skip
THIN = Dilute.of(SPECIES, limits_of(SPECIES))
ROOM = np.array([298.15])


def gas(**parts: float) -> FloatArray:
    names = [s.name for s in SPECIES]
    out = np.zeros((len(names), 1))
    for name, share in parts.items():
        out[names.index(name.replace("_", " "))] = share
    return out


def share(mix: FloatArray, hot: float = 298.15, cracked: bool = False) -> float:
    return float(THIN.share(mix, np.array([hot]), np.array([cracked]))[0])


@pytest.mark.parametrize(
    ("mix", "ratio"),
    [
        # 5 % hydrogen in nitrogen, 0.05/0.055; in argon 0.05/(0.05 + 0.55 0.95)/0.055.
        ({"hydrogen": 0.05, "nitrogen": 0.95}, 0.909),
        ({"hydrogen": 0.05, "argon": 0.95}, 1.588),
        # The example of ISO 10156 (7 % hydrogen in carbon dioxide) with K 1.5: 0.0478/0.055.
        ({"hydrogen": 0.07, "carbon_dioxide": 0.93}, 0.869),
        # Acetylene needs no oxygen, but the standard has a figure for it: 3 %.
        ({"acetylene": 0.01, "nitrogen": 0.99}, 0.3333),
        ({"acetylene": 0.5, "nitrogen": 0.5}, 16.67),
    ],
)
def test_iso_10156(mix, ratio):
    assert share(gas(**mix)) == pytest.approx(ratio, rel=2e-3)


def test_air_in_it_is_no_inert():
    """Half forming gas, half air burns no more than the forming gas: the air is left out."""
    mixed = gas(hydrogen=0.025, nitrogen=0.475 + 0.5 * 0.7905, oxygen=0.5 * 0.2095)
    assert share(mixed) == pytest.approx(0.909, rel=2e-3)
    # A lean premix is fuel and air and nothing else: no figure of the standard's clears it.
    assert share(gas(hydrogen=0.01, nitrogen=0.99 * 0.7905, oxygen=0.99 * 0.2095)) > 10


@pytest.mark.parametrize(
    "mix",
    [
        {"hydrogen": 0.02, "nitrogen": 0.58, "oxygen": 0.4},
        {"hydrazine": 0.01, "nitrogen": 0.99},
        {"hydrogen": 0.02, "nitrogen": 0.97, "nitric_oxide": 0.01},
    ],
)
def test_never_dilute(mix):
    """More oxygen than air brings; a fuel that needs none, without a figure; another oxidiser."""
    assert share(gas(**mix)) == np.inf


def test_hot_and_cracked():
    """Ammonia, 40.1 % cold, counts as 1.5 of hydrogen once it was hot: 5.5/1.5 = 3.67 %."""
    mix = gas(ammonia=0.05, nitrogen=0.95)
    assert share(mix) == pytest.approx(0.05 / 0.401, rel=2e-3)
    assert share(mix, cracked=True) == pytest.approx(0.05 / 0.055 * 1.5, rel=2e-3)
    forming = gas(hydrogen=0.04, nitrogen=0.96)
    assert share(forming, 673.15) > 1 > share(forming)


def test_the_warming_of_an_after_burn():
    """4 % hydrogen with just enough air, 0.2095/(0.02 + 0.2095) of it: 0.03651 x 241.8 / 29.1."""
    air = gas(oxygen=0.2095, nitrogen=0.7905)[:, 0]
    rise = THIN.rise_in_air(gas(hydrogen=0.04, nitrogen=0.96), air)
    assert rise[0] == pytest.approx(0.03651 * 241818 / 29.1, rel=2e-3)
    assert THIN.rise_in_air(gas(acetylene=0.01, nitrogen=0.99), air)[0] == np.inf
    assert THIN.rise_in_air(gas(hydrogen=0.10, nitrogen=0.90), air)[0] > 500


def test_too_little_of_both_for_any_flame():
    """0.1 % carbon monoxide and 0.1 % nitric oxide: (283 + 150) J/mol over 20.8 is 21 K."""
    mix = gas(carbon_monoxide=0.001, nitric_oxide=0.001, helium=0.998)
    found = THIN.with_any_oxidiser(np.array([mix, mix]))
    assert found[0] == pytest.approx(0.001 * (282980 + 150e3) / 20.786, rel=2e-3)


@pytest.mark.parametrize(
    ("surface", "near", "rise", "value"),
    [
        (0.9, 0.25, 900.0, 0.5),
        (0.9, 0.4, 900.0, 0.8),
        (0.9, 0.45, 900.0, 0.9),
        (1.1, 0.3, 900.0, 1.1),
        (1.1, 3.0, 500.0, 0.8),
        (1.1, 3.0, 501.0, 1.1),
        (1.1, np.inf, np.inf, 1.1),
        (np.nan, 0.1, 10.0, np.nan),
    ],
)
def test_nearness(surface, near, rise, value):
    """25 % of what burns is half of the way, 40 % is 80 %; past ignition neither helps."""
    given = (np.array([each]) for each in (surface, near, rise, 500.0, 0.0))
    found = nearness(*given)
    assert found == pytest.approx([value], nan_ok=True)
