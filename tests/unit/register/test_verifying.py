"""Whether a record still holds: its bytes, its signatures, its time, and what is said today.

What was said then is made to differ by changing what a record rests on before it is sealed.
"""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from stand import NOW, STAND, Change, both, lines, point, sign

from review import Engine, load
from review.judge.effective import ruleset_to_json
from review.register.given import Given, given
from review.register.record import RecordError
from review.register.signatures import fingerprint
from review.register.verified import Point, Verified
from review.register.verifying import Verifier
from review.register.wording import SIGNED, UNSIGNED
from review.render.json import to_json
from tests.support import shared_engine


def site(folder: Path, text: str, **plugins: Any) -> Engine:
    path = folder / "site.yaml"
    path.write_text(text, "utf-8")
    return Engine(rules_files=[path], **plugins)


def test_a_record_as_it_was_signed_holds(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine)
    found = Verifier(engine, NOW).record(path, given(tmp_path / "stand.yaml", engine))
    assert found.holds
    assert [p.subject for p in found.points] == [
        "Record", "Register", "Scenario", "Review today", "Time",
    ]  # fmt: skip
    assert "nothing else has changed" in lines(found, "Review today")


def test_a_copy_of_a_record_elsewhere_is_looked_at_by_itself(
    tmp_path: Path, engine: Engine
) -> None:
    path = Path(shutil.copy(sign(tmp_path, engine), tmp_path))
    found = Verifier(engine, NOW).record(path)
    assert found.intact
    assert not found.holds
    assert found.sound
    assert [p.subject for p in found.failing] == ["In use"]
    assert "its place among other records was not looked at" in lines(found, "Register")


def test_a_changed_byte_breaks_a_record(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    found = Verifier(engine, NOW).record(path)
    assert found.broken
    assert not found.holds
    assert not Verifier(engine, NOW).register(path.parent).holds


def test_what_is_no_record_is_wrong_input(tmp_path: Path, engine: Engine) -> None:
    stranger = tmp_path / "a.json"
    stranger.write_text("{}", "utf-8")
    with pytest.raises(RecordError):
        Verifier(engine, NOW).record(stranger)
    with pytest.raises(RecordError, match="no register"):
        Verifier(engine, NOW).register(tmp_path)


# Time


def test_a_record_holds_on_its_last_day_and_no_longer(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine)
    last = datetime(2031, 6, 5, 23, 59, tzinfo=UTC)
    assert Verifier(engine, last).record(path).holds
    found = Verifier(engine, last + timedelta(minutes=1)).record(path)
    assert found.expired
    assert not found.holds
    assert "2031-06-05 was its last day" in lines(found, "Time")


def test_the_day_is_that_of_whoever_asks(tmp_path: Path, engine: Engine) -> None:
    from datetime import timezone

    path = sign(tmp_path, engine)
    east = datetime(2031, 6, 6, 1, 0, tzinfo=timezone(timedelta(hours=9)))  # 5 June in UTC
    assert Verifier(engine, east).record(path).expired


@pytest.mark.parametrize(("minutes", "holds"), [(4, True), (6, False)])
def test_a_record_from_the_future_tells_of_a_wrong_clock(
    tmp_path: Path, engine: Engine, minutes: int, holds: bool
) -> None:
    path = sign(tmp_path, engine)
    found = Verifier(engine, NOW - timedelta(minutes=minutes)).record(path)
    assert found.holds is holds
    assert ("clock" in lines(found, "Time")) is not holds


# The scenario


def edited(folder: Path, old: str, new: str) -> Given:
    assert STAND.count(old) == 1
    path = folder / "edited.yaml"
    path.write_text(STAND.replace(old, new), "utf-8")
    return given(path, shared_engine())


def test_a_changed_scenario_is_told_field_by_field(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine)
    found = Verifier(engine, NOW).record(path, edited(tmp_path, "reach: 100 mm", "reach: 90 mm"))
    assert not found.holds
    assert "frame.clamps.clamp.reach was 100 mm, is 90 mm" in lines(found, "Scenario")


@pytest.mark.parametrize(
    ("old", "new"), [("title:", "# seen\ntitle:"), ("reach: 100 mm", "reach: 10 cm")]
)
def test_a_scenario_written_otherwise_is_the_same(
    tmp_path: Path, engine: Engine, old: str, new: str
) -> None:
    path = sign(tmp_path, engine)
    found = Verifier(engine, NOW).record(path, edited(tmp_path, old, new))
    assert found.holds
    assert "written in another way" in lines(found, "Scenario")


def test_a_scenario_that_is_no_longer_understood_is_stale(tmp_path: Path, engine: Engine) -> None:
    import hashlib

    def change(body: dict[str, Any]) -> None:
        text = STAND.replace("push_height", "shove_height")
        sha256 = hashlib.sha256(text.encode()).hexdigest()
        body["scenario"] |= {"text": text, "sha256": sha256}
        body["review"]["scenario"]["sha256"] = sha256

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    assert not found.holds
    assert 'unknown key "shove_height"' in lines(found, "Review today")


# What a review says today


STRICTER = """\
name: our bench
criteria:
  - id: stability.clamp
    bands: {acceptable: 0.1, tolerable: 0.2}
"""


def test_a_stricter_rule_is_named_with_the_finding_that_it_moved(
    tmp_path: Path, engine: Engine
) -> None:
    """0.5 kg at 100 mm is 0.49 N m of the 1 N m that the clamp holds."""
    path = sign(tmp_path, engine)
    found = Verifier(site(tmp_path, STRICTER), NOW).record(path)
    assert not found.holds
    said = lines(found, "Review today")
    assert "(stability.clamp)" in said
    assert "is unacceptable" in said
    assert "Because: rule stability.clamp, now as our bench has it:" in said
    assert "is at most 0.1" in said.replace("10 %", "0.1")
    assert "would be 'must not proceed'" in said


def test_a_milder_rule_moves_a_finding_too(tmp_path: Path) -> None:
    path = sign(tmp_path, site(tmp_path, STRICTER.replace("0.2", "0.6")))
    rules = "name: our bench\ncriteria: []\n"
    found = Verifier(site(tmp_path, rules), NOW).record(path)
    assert found.holds
    assert "was tolerable, is acceptable" in lines(found, "Review today")


def test_a_finding_that_nobody_judges_any_more_counts_unless_a_rule_says_so(
    tmp_path: Path, engine: Engine
) -> None:
    """A rule that was taken away is milder; a judgement that is gone without one is none."""
    extra = {"criterion": "of.nobody", "kind": "x", "at": "", "of": "", "grade": "acceptable",
             "status": "ok", "case": "plan", "trial": "plan", "step": "", "value": 1.0, "unit": "",
             "limit": 2.0, "action": "", "basis": ""}  # fmt: skip
    path = sign(tmp_path, engine, lambda body: body["review"]["findings"].append(extra))
    found = Verifier(engine, NOW).record(path)
    assert "is not judged any more" in lines(found, "Review today")
    assert not found.holds


def test_rules_that_were_not_given_change_nothing_by_themselves(
    tmp_path: Path, engine: Engine
) -> None:
    ours = site(tmp_path, "name: our bench\ncontacts: [the door]\n")
    path = sign(tmp_path, ours)
    assert Verifier(ours, NOW).record(path).holds
    found = Verifier(engine, NOW).record(path)
    assert found.holds
    assert "signed under rules 'our bench', which are not given" in lines(found, "Changed since")


NOTHING = """\
from review import hookimpl


@hookimpl
def measures():
    return []
"""


def test_a_plugin_that_was_not_given_is_said_first(tmp_path: Path, engine: Engine) -> None:
    plugin = tmp_path / "weather.py"
    plugin.write_text(NOTHING, "utf-8")
    path = sign(tmp_path, Engine(plugin_files=[plugin]))
    found = Verifier(engine, NOW).record(path)
    assert not found.holds
    assert found.points[0].lines == (
        "reviewed with plugin 'weather', which was not given now: add --plugin",
    )
    plugin.write_text(f"{NOTHING}\n# reworked\n", "utf-8")
    again = Verifier(Engine(plugin_files=[plugin]), NOW).record(path)
    assert again.holds
    assert "plugin 'weather' has changed" in lines(again, "Changed since")


def then(body: dict[str, Any], **fields: Any) -> None:
    """What the record says of the clamp: something else than would be said today."""
    for finding in body["review"]["findings"]:
        if finding["criterion"] == "stability.clamp":
            finding |= fields


def test_data_that_changed_is_named_as_the_cause(tmp_path: Path, engine: Engine) -> None:
    def change(body: dict[str, Any]) -> None:
        then(body, grade="tolerable", value=0.7)
        [steel] = [d for d in body["data"] if d["name"] == "stainless steel 316"]
        steel["sha256"] = "0" * 64

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    said = lines(found, "Review today")
    assert "was tolerable, is acceptable" in said
    assert "Because: the data on stainless steel 316 (materials/stainless_steel_316)" in said


def test_code_and_libraries_that_changed_are_named_as_causes(
    tmp_path: Path, engine: Engine
) -> None:
    def change(body: dict[str, Any]) -> None:
        then(body, grade="tolerable", value=0.7)
        body["tool"]["code"] = "0" * 64
        body["tool"]["libraries"]["numpy"] = "1.0"

    said = lines(Verifier(engine, NOW).record(sign(tmp_path, engine, change)), "Review today")
    assert "the code of benchgate has changed" in said
    assert "numpy was 1.0, is" in said


def test_a_limit_that_changed_is_named_as_the_cause(tmp_path: Path, engine: Engine) -> None:
    def change(body: dict[str, Any]) -> None:
        then(body, grade="tolerable", value=0.7)
        body["ruleset"]["limits"]["purge.house"] = {"value": 3.0}

    said = lines(Verifier(engine, NOW).record(sign(tmp_path, engine, change)), "Review today")
    assert "Because: the limit purge.house was 3, is not set." in said


def test_a_rule_alone_is_the_cause_where_the_number_is_as_it_was(
    tmp_path: Path, engine: Engine
) -> None:
    def change(body: dict[str, Any]) -> None:
        then(body, grade="tolerable")
        body["tool"]["code"] = "0" * 64
        for criterion in body["ruleset"]["criteria"]:
            if criterion["id"] == "stability.clamp":
                criterion["bands"]["plan"]["acceptable"] = 0.1

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    said = lines(found, "Review today")
    assert "Because: rule stability.clamp" in said
    assert "code" not in said
    assert "code" in lines(found, "Changed since")


def test_a_move_without_a_cause_is_a_fault_of_the_tool(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine, lambda body: then(body, grade="tolerable", value=0.7))
    said = lines(Verifier(engine, NOW).record(path), "Review today")
    assert "so this is a fault of benchgate" in said


def test_what_changed_without_effect_is_told_and_holds(tmp_path: Path, engine: Engine) -> None:
    def change(body: dict[str, Any]) -> None:
        body["tool"]["code"] = "0" * 64

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    assert found.holds
    assert "the code of benchgate has changed" in lines(found, "Changed since")


def test_a_finding_that_is_not_judged_any_more_is_stale(tmp_path: Path, engine: Engine) -> None:
    def change(body: dict[str, Any]) -> None:
        findings = body["review"]["findings"]
        findings.append({**findings[0], "criterion": "stability.wind"})

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    assert not found.holds
    assert "stability.wind was" in lines(found, "Review today")
    assert "is not judged any more" in lines(found, "Review today")


def test_a_new_finding_that_is_acceptable_takes_nothing_back(
    tmp_path: Path, engine: Engine
) -> None:
    def change(body: dict[str, Any]) -> None:
        body["review"]["findings"] = [
            f for f in body["review"]["findings"] if f["criterion"] != "stability.clamp"
        ]

    assert Verifier(engine, NOW).record(sign(tmp_path, engine, change)).holds


def test_a_condition_that_nobody_confirmed_is_stale(tmp_path: Path) -> None:
    ours = site(tmp_path, STRICTER.replace("0.2", "0.6"))
    path = sign(tmp_path, ours, lambda body: body["conditions"].clear())
    found = Verifier(ours, NOW).record(path)
    assert not found.holds
    assert "stability.clamp@clamp is a condition, and nobody confirmed it" in lines(
        found, "Sign-off today"
    )


def test_a_condition_that_asks_for_something_else_now_is_stale(tmp_path: Path) -> None:
    ours = STRICTER.replace("0.2", "0.6")
    path = sign(tmp_path, site(tmp_path, ours))
    found = Verifier(site(tmp_path, f"{ours}    action: Use two clamps.\n"), NOW).record(path)
    assert not found.holds
    assert 'stability.clamp@clamp: it now says "Use two clamps."' in lines(found, "Sign-off today")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda body: body.update(reviewer="Teacher"), "the same person"),
        (lambda body: body.update(preparer=" "), "the preparer's name is blank"),
    ],
)
def test_a_record_that_nobody_could_sign_does_not_hold(
    tmp_path: Path, engine: Engine, change: Change, why: str
) -> None:
    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    assert not found.holds
    assert why in lines(found, "Sign-off today")


def test_a_forged_record_of_what_must_not_proceed_does_not_hold(tmp_path: Path) -> None:
    """Then as today the rules forbid it, but somebody wrote a record of it by hand."""
    path = tmp_path / "stand.yaml"
    mild = site(tmp_path, STRICTER.replace("0.1, tolerable: 0.2", "0.1, tolerable: 0.6"))
    (tmp_path / "strict.yaml").write_text(STRICTER, "utf-8")
    strict = Engine(rules_files=[tmp_path / "strict.yaml"])
    path.write_text(STAND, "utf-8")
    said_today = to_json(strict.review(load(path)))
    rules = ruleset_to_json(strict.ruleset)

    def forge(body: dict[str, Any]) -> None:
        body["review"] = {**said_today, "scenario": body["review"]["scenario"]}
        body["ruleset"] = rules

    found = Verifier(strict, NOW).record(sign(tmp_path, mild, forge))
    assert point(found, "Review today").holds
    assert not found.holds
    assert "nobody can sign that" in lines(found, "Sign-off today")


# Signatures


@pytest.fixture(scope="module")
def allowed(keys: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Whose key is whose; the stranger's is nobody's."""
    path = tmp_path_factory.mktemp("allowed") / "signers"
    rows = []
    for role, person in (("preparer", "teacher"), ("reviewer", "second teacher")):
        public = keys[role].with_name(f"{keys[role].name}.pub").read_text("utf-8").split()
        rows.append(f'"{person}" namespaces="benchgate-record" {public[0]} {public[1]}')
    path.write_text("\n".join(rows) + "\n", "utf-8")
    return path


def test_good_signatures_of_the_people_named(
    tmp_path: Path, engine: Engine, keys: dict[str, Path], allowed: Path
) -> None:
    path = sign(tmp_path, engine, keys=both(keys))
    found = Verifier(engine, NOW, allowed).record(path)
    assert found.holds, found.points
    assert point(found, "Signatures").lines == (
        "preparer: signed by teacher, whose key is allowed",
        "reviewer: signed by second teacher, whose key is allowed",
    )


def test_signatures_that_nobody_checked_say_whose_they_claim_to_be(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    path = sign(tmp_path, engine, keys=both(keys))
    found = Verifier(engine, NOW).record(path)
    assert found.holds
    first, second = point(found, "Signatures").lines
    assert fingerprint(keys["preparer"]) in first
    assert "by teacher as the record claims" in first
    assert "by second teacher as the record claims" in second
    assert "was not checked: add --allowed-signers" in second


def test_a_key_of_somebody_else_does_not_count(
    tmp_path: Path, engine: Engine, keys: dict[str, Path], allowed: Path
) -> None:
    path = sign(tmp_path, engine, keys={"preparer": keys["preparer"], "reviewer": keys["stranger"]})
    found = Verifier(engine, NOW, allowed).record(path)
    assert not found.holds
    assert "does not allow" in lines(found, "Signatures")


def test_keys_in_the_wrong_roles_do_not_count(
    tmp_path: Path, engine: Engine, keys: dict[str, Path], allowed: Path
) -> None:
    swapped = {"preparer": keys["reviewer"], "reviewer": keys["preparer"]}
    found = Verifier(engine, NOW, allowed).record(sign(tmp_path, engine, keys=swapped))
    assert not found.holds


@pytest.mark.parametrize("roles", [(), ("preparer",)])
def test_a_record_that_lacks_a_key_does_not_pass_where_keys_are_asked_for(
    tmp_path: Path, engine: Engine, keys: dict[str, Path], allowed: Path, roles: tuple[str, ...]
) -> None:
    path = sign(tmp_path, engine, keys={role: keys[role] for role in roles})
    assert Verifier(engine, NOW).record(path).holds
    found = Verifier(engine, NOW, allowed).record(path)
    assert not found.holds
    assert "no key of second teacher signs it" in lines(found, "Signatures")


def test_a_signature_that_was_taken_away_is_missed(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    path = sign(tmp_path, engine, keys=both(keys))
    path.with_name(f"{path.name}.reviewer.sig").unlink()
    lone = Path(shutil.copy(path, tmp_path))
    shutil.copy(path.with_name(f"{path.name}.preparer.sig"), tmp_path)
    for each in (path, lone):
        found = Verifier(engine, NOW).record(each)
        assert not found.holds
        assert "reviewer" in lines(found, "Signatures")


def test_a_signature_made_by_plain_ssh_keygen_for_something_else_does_not_count(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    path = sign(tmp_path, engine, keys=both(keys))
    signature = path.with_name(f"{path.name}.reviewer.sig")
    signature.unlink()
    subprocess.run(
        ["ssh-keygen", "-q", "-Y", "sign", "-n", "file", "-f", keys["reviewer"], path],
        check=True, capture_output=True, timeout=60,
    )  # fmt: skip
    path.with_name(f"{path.name}.sig").rename(signature)
    assert not Verifier(engine, NOW).record(path).holds


# Registers


def test_a_register_of_records_that_hold(tmp_path: Path, engine: Engine) -> None:
    sign(tmp_path, engine)
    path = sign(tmp_path, engine, name="other.yaml")
    found = Verifier(engine, NOW).register(path.parent)
    assert found.holds
    assert [each.name for each in found.records] == ["000001.json", "000002.json"]


def test_a_record_that_expired_costs_a_register_nothing(tmp_path: Path, engine: Engine) -> None:
    sign(tmp_path, engine, days=1)
    path = sign(tmp_path, engine)
    found = Verifier(engine, NOW + timedelta(days=7)).register(path.parent)
    assert [each.expired for each in found.records] == [True, False]
    assert found.holds


def test_an_expired_record_is_not_asked_what_is_said_today(tmp_path: Path, engine: Engine) -> None:
    path = sign(tmp_path, engine, lambda body: then(body, criterion="of.nobody"), days=1)
    found = Verifier(engine, NOW + timedelta(days=7)).register(path.parent)
    assert found.holds
    assert not Verifier(engine, NOW).register(path.parent).holds


def test_the_newest_record_of_a_scenario_is_compared(tmp_path: Path, engine: Engine) -> None:
    sign(tmp_path, engine, text=STAND.replace("reach: 100 mm", "reach: 90 mm"))
    folder = sign(tmp_path, engine).parent
    sign(tmp_path, engine, name="other.yaml", text=STAND.replace("A flask", "Another"))
    verifier = Verifier(engine, NOW)
    found = verifier.register(folder, given(tmp_path / "stand.yaml", engine))
    assert found.holds
    assert found.asked is not None
    assert found.asked.name == "000002.json"
    path = tmp_path / "stand.yaml"
    path.write_text(STAND.replace("reach: 100 mm", "reach: 95 mm"), "utf-8")
    changed = verifier.register(folder, given(path, engine))
    assert not changed.holds
    assert changed.asked is not None
    assert changed.asked.name == "000002.json"
    assert "reach was 100 mm, is 95 mm" in lines(changed.asked, "Scenario")


def test_an_older_record_of_the_very_same_text_comes_before_a_newer_one_of_the_name(
    tmp_path: Path, engine: Engine
) -> None:
    sign(tmp_path, engine)
    folder = sign(tmp_path, engine, text=STAND.replace("reach: 100 mm", "reach: 90 mm")).parent
    (tmp_path / "stand.yaml").write_text(STAND, "utf-8")
    found = Verifier(engine, NOW).register(folder, given(tmp_path / "stand.yaml", engine))
    assert found.asked is not None
    assert found.asked.name == "000001.json"


def test_a_scenario_that_nobody_signed_does_not_hold(tmp_path: Path, engine: Engine) -> None:
    folder = sign(tmp_path, engine).parent
    other = tmp_path / "other.yaml"
    other.write_text(STAND.replace("A flask", "A bulb"), "utf-8")
    found = Verifier(engine, NOW).register(folder, given(other, engine))
    assert not found.holds
    assert any("no record here is of" in line for p in found.points for line in p.lines)


def test_a_scenario_whose_record_expired_does_not_hold(tmp_path: Path, engine: Engine) -> None:
    folder = sign(tmp_path, engine, days=1).parent
    verifier = Verifier(engine, NOW + timedelta(days=7))
    assert verifier.register(folder).holds
    assert not verifier.register(folder, given(tmp_path / "stand.yaml", engine)).holds


@pytest.mark.parametrize("harm", ["cut off", "inserted", "head"])
def test_a_register_that_is_not_in_order_does_not_hold(
    tmp_path: Path, engine: Engine, harm: str
) -> None:
    path = sign(tmp_path, engine)
    last = sign(tmp_path, engine, name="other.yaml")
    if harm == "cut off":
        last.unlink()
    elif harm == "inserted":
        shutil.copy(last, last.with_name("000003.json"))
    else:
        (path.parent / "head.json").unlink()
    assert not Verifier(engine, NOW).register(path.parent).holds
    if harm != "head":  # without a head beside it, a record is looked at by itself
        assert not Verifier(engine, NOW).record(path).holds


def test_what_cannot_be_shown_is_said_in_plain_words() -> None:
    assert "replace the whole of it" in UNSIGNED
    assert "nothing shows who typed the two names" in UNSIGNED
    assert "only a copy kept elsewhere would show" in SIGNED


def test_a_result_is_found_by_its_points_alone() -> None:
    good = Verified("a", None, (Point("Record", ("fine",)),))
    assert good.holds
    assert not replace(good, points=(Point("Record", ("bad",), False),)).holds
    assert not replace(good, expired=True).holds
