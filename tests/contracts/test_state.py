"""What one step leaves is what the next one finds; upsets start from the plan; skipping."""

import numpy as np
import pytest

from review import Overlay

CLOSE = {"rtol": 1e-12, "atol": 0.0, "equal_nan": True}
LATE = Overlay(
    id="late", title="nitrogen stops in mid-heat", case="upset",
    changes={"flows.nitrogen.delivered": 0.0}, from_step=2, late=True,
)  # fmt: skip
STOPPED = Overlay(
    id="stopped", title="everything stops when cooling begins", case="upset",
    changes={f"flows.{flow}.delivered": 0.0 for flow in ("nitrogen", "fuel", "acid")},
    from_step=3,
)  # fmt: skip


#: What a purge or a cooling must reach depends on the step after it, and 15 minutes may begin with
#: a shorter step: these look one step ahead.
LOOKS_AHEAD = ("readiness.purge_ratio", "readiness.cooling_ratio", "exposure.short_term_ratio")
#: What the whole run draws is one figure of a run, told in every cell; what the file leaves out is
#: said once, of the plan.
WHOLE_RUN = ("readiness.gas_drawn", "readiness.declared", "corrosion.rating")


def test_an_upset_starts_from_the_plan(plain):
    """Cells before the step of the upset are the plan's, the stated settings too."""
    starts = {run.from_step for run in plain.trials.runs[1:]}
    assert {1, 2, 3} <= starts
    runs = np.array([run.from_step or 0 for run in plain.trials.runs])
    cells = np.arange(1 + len(plain.trials.steps))[:, None]
    differs = 0
    for m in plain.measures:
        if m.kind in WHOLE_RUN:
            continue
        ahead = (m.kind in LOOKS_AHEAD) & (runs > 0)
        before = cells < runs - ahead
        planned, status = (np.broadcast_to(a[:, :1], a.shape) for a in (m.value, m.status))
        where = f"{m.kind} at {m.at}"
        np.testing.assert_allclose(m.value[before], planned[before], err_msg=where, **CLOSE)
        np.testing.assert_array_equal(m.status[before], status[before], where)
        same = (m.value == planned) | (np.isnan(m.value) & np.isnan(planned))
        differs += int((~same & (cells >= runs)).any(axis=0).sum())
    assert differs > len(plain.trials.runs)


def test_an_upset_finds_the_gas_of_the_plan(walked, scenario, upset):
    walk, _ = walked(scenario, upset, LATE)
    plan = walk.cells[2].old[..., 0]
    np.testing.assert_allclose(walk.cells[2].old[..., 1], plan, **CLOSE)
    # A late one begins when the step has settled: it finds what the plan leaves at its end.
    np.testing.assert_allclose(walk.cells[2].old[..., 2], walk.cells[3].old[..., 0], **CLOSE)
    assert not np.allclose(walk.cells[2].old[..., 2], plan)
    assert not np.allclose(walk.cells[3].old[..., 1], walk.cells[3].old[..., 0])


def test_the_first_step_finds_air_and_fresh_absorbent(walked, scenario, samples):
    walk, _ = walked(scenario, *samples[:8])
    index, first = walk.resolved.index, walk.cells[1]
    # Dry air: 20.95 % oxygen, the rest counted as nitrogen.
    assert (first.old[:, index["oxygen"]] == 0.2095).all()
    assert (first.old[:, index["nitrogen"]] == 0.7905).all()
    assert first.old.sum(axis=1) == pytest.approx(1.0, rel=1e-12)
    assert not first.used.any()


@pytest.mark.parametrize("step", [1, 2])
def test_a_step_finds_what_the_last_one_left(walked, scenario, upset, samples, step):
    """Where gas flows, what all items upstream held is mixed by volume and diluted by the new gas:
    new + (held - new) * share left; where it does not, the old gas stays but for what is drawn in.
    """
    # A late upset splits its step in two; what it finds there is tested above.
    late = (LATE,) if step > 1 else ()
    walk, at = walked(scenario, upset, STOPPED, *late, *samples)
    done, after = walk.cells[step], walk.cells[step + 1]
    moving = done.moving[:, None, :] > 0
    held, left_over = done.old.copy(), np.ones_like(done.moving)
    name = walk.resolved.steps[step - 1].name
    number = {path: walk.runs.number(path, step) for path in (
        "ambient.temperature", "ambient.pressure", f"procedure.{name}.duration",
    )}  # fmt: skip
    warm, pressed, lasts = number.values()
    for i in range(len(at)):
        upstream = [j for j in walk.resolved.graph.all_upstream(i)]
        volume = np.where(done.moving[upstream] > 0, done.volume[upstream], 0.0)
        mixed = np.einsum("jr,jsr->sr", volume, done.old[upstream])
        total = volume.sum(axis=0)
        held[i] = np.where(total > 0, mixed / np.where(total > 0, total, 1.0), done.old[i])
        # exp(-K Q t / V) with K 0.25, NFPA 69; Q at the room's temperature and pressure. A volume
        # that more gas flows through counts by the share that gets here.
        through = done.flow[i] * 8.314462618 * warm / pressed * lasts
        more = np.maximum(done.flow[upstream], done.flow[i])
        part = np.where(done.flow[i] > 0, done.flow[i] / np.where(more > 0, more, 1.0), 1.0)
        swept = (volume * part).sum(axis=0)
        flushed = np.exp(-0.25 * through / np.where(swept > 0, swept, 1.0))
        left_over[i] = np.where(done.moving[i] > 0, flushed, 1.0)
    share = left_over[:, None, :]
    flushed = done.outlet_end * (1 - share) + held * share
    drawn = (done.drawn_fraction * done.exposed)[:, None, :]
    still = done.old * (1 - drawn) + done.drawn_from * drawn
    left = np.where(moving, flushed, still)
    np.testing.assert_allclose(after.old, left, rtol=1e-9, atol=1e-15)
    assert (done.old != after.old).any()
    # The absorbent: used at its start is what the step before left, so it never grows fresh.
    acid, i = walk.resolved.index["hydrogen chloride"], at["absorber"]
    grown = after.used[i, acid] - done.used[i, acid]
    assert (grown >= 0).all()
    rate = after.inlet[i, acid] * after.flow[at["trap"]]
    assert (grown <= rate * 2400 * (1 + 1e-9)).all()


def test_gas_stays_where_nothing_flows(walked, scenario, upset):
    """Everything stops when cooling begins: the cold end keeps what the heat step left."""
    walk, at = walked(scenario, STOPPED)
    heat, cool = walk.cells[2], walk.cells[3]
    assert (cool.moving[:, 1] == 0).all()
    np.testing.assert_allclose(cool.old[..., 1], cool.old[..., 0], **CLOSE)
    inlet = at["inlet"]
    # Purged for half an hour at more than 15 mL/s through 5 mL: only the new gas is there.
    held, fed = cool.old[inlet, :, 1], heat.inlet[inlet, :, 1]
    np.testing.assert_allclose(held, fed, rtol=1e-9, atol=1e-12)
    assert (cool.flow[:, 1] == 0).all()


def without(step):
    """The scenario without one step; what it set is set by the next one unless that resets it."""

    def change(data):
        names = [s["step"] for s in data["procedure"]]
        gone = data["procedure"].pop(names.index(step))
        after = data["procedure"][names.index(step)]
        for section in ("flows", "heat"):
            merged = {**gone.get(section, {}), **after.get(section, {})}
            if merged:
                after[section] = merged

    return change


@pytest.mark.parametrize(("step", "cell"), [("purge", 1), ("heat", 2)])
def test_a_skipped_step_leaves_the_state_as_it_was(engine, scenario, edited, keyed, step, cell):
    """Skipping a step by a duration of zero is the same as a procedure that lacks it."""
    skip = Overlay(
        id="skip", title="skip", case="window", changes={f"procedure.{step}.duration": 0.0}
    )
    skipped = keyed(engine.review(scenario, extra=[skip], upsets=False).measures)
    lacking = keyed(engine.review(edited(without(step)), upsets=False).measures)
    # Without heating, more of what is declared may be asked for; nothing else appears.
    assert {kind for kind, _, _ in lacking.keys() - skipped.keys()} <= {"readiness.declared"}
    assert {at for _, at, _ in skipped.keys() - lacking.keys()} <= {step}
    # The stated settings are those of the main step, which may be another one without it; what
    # speaks of the order of steps sees a step that takes no time and one that is not written.
    for key, m in lacking.items():
        if key[0].startswith("readiness."):
            continue
        assert key in skipped
        rest = np.delete(skipped[key].value[:, 1], (0, cell))
        np.testing.assert_allclose(rest, m.value[1:, 0], err_msg=str(key), **CLOSE)
        np.testing.assert_array_equal(
            np.delete(skipped[key].status[:, 1], (0, cell)), m.status[1:, 0], err_msg=str(key)
        )
    both = lacking.keys() & skipped.keys()
    changed = [k for k in both if skipped[k].value[-1, 0] != lacking[k].value[-1, 0]]
    assert changed, "the step must matter for the test to say anything"


def test_a_skipped_last_step_uses_nothing(walked, scenario):
    skip = Overlay(
        id="skip", title="skip", case="window", changes={"procedure.cool.duration": 0.0,
        "train.absorber.absorbs.hydrogen chloride.capacity": 1.0},
    )  # fmt: skip
    walk, at = walked(scenario, skip)
    np.testing.assert_array_equal(walk.cells[3].used[..., 1], walk.cells[2].used[..., 1])
    assert walk.cells[2].used[at["absorber"]].any()
