"""``benchgate verify``, on demos that were signed: what it says, and how it leaves."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from signing import NAMES, SCENARIOS, run, sign

from review.cautions import DEFERS
from review.register import clock

DEMOS = ("copper_oxide_forming_gas", "nitrogen_dried", "carbon_dioxide_methanated_over_nickel")
STRICTER = """\
name: our bench
criteria:
  - id: flammability.envelope
    bands_in: {upset: {acceptable: 2.0}}
"""


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with three demos, signed one after the other."""
    folder = tmp_path_factory.mktemp("signed")
    for name in DEMOS:
        file = Path(shutil.copy(SCENARIOS / f"{name}.yaml", folder))
        result = sign(file, folder / "register")
        assert result.exit_code == 0, result.output
    return folder


@pytest.fixture
def signed(once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it that a test may change, and stands in."""
    folder = tmp_path / "bench"
    shutil.copytree(once, folder)
    monkeypatch.chdir(folder)
    return folder


@pytest.mark.parametrize("number", [1, 2, 3])
def test_a_demo_that_was_signed_holds(signed: Path, number: int) -> None:
    file = f"{DEMOS[number - 1]}.yaml"
    result = run("verify", f"register/00000{number}.json", "--scenario", file)
    shown = flat(result.stdout)
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    assert "Intact: yes, it is as it was signed" in shown
    assert "May be used: yes, a review asks for no more today" in shown
    assert f"{file} is as it was signed, to the byte" in shown
    assert "replace the whole of it, and nothing in it would show that" in shown
    assert shown.endswith(DEFERS)


def test_without_a_scenario_it_says_that_none_was_compared(signed: Path) -> None:
    result = run("verify", "register/000002.json")
    assert result.exit_code == 0
    assert "Scenario: not compared: add --scenario" in flat(result.stdout)


def test_an_edited_scenario_is_told_in_words(signed: Path) -> None:
    file = signed / f"{DEMOS[0]}.yaml"
    text = file.read_text("utf-8").replace("length: 600 mm", "length: 500 mm")
    file.write_text(text.replace("  - {kind: spectacles}\n", ""), "utf-8")
    result = run("verify", "register/000001.json", "--scenario", file.name)
    shown = flat(result.stdout)
    assert result.exit_code == 1
    assert "train.tube.length was 600 mm, is 500 mm" in shown
    assert "safeguard spectacles is gone" in shown
    assert "what stands under 'Scenario' says why" in shown


def test_a_stricter_rule_of_the_site_names_the_finding_it_moved(signed: Path) -> None:
    """-1.26 at the tube was tolerable after a failure; of 2.0 nothing is."""
    Path("site.yaml").write_text(STRICTER, "utf-8")
    result = run("verify", "register/000001.json", "--rules", "site.yaml")
    shown = flat(result.stdout)
    assert result.exit_code == 1
    assert "Gas against the range in which it burns (flammability.envelope)" in shown
    assert "was tolerable, is unacceptable after a single failure: at" in shown
    assert "Because: rule flammability.envelope, now as our bench has it" in shown
    assert "the verdict was 'may proceed with conditions', and would be 'must not proceed'" in shown


def test_rules_that_are_not_given_again_are_said_and_change_nothing(signed: Path) -> None:
    Path("site.yaml").write_text("name: our bench\ncontacts: [the door]\n", "utf-8")
    result = run("sign", f"{DEMOS[1]}.yaml", *NAMES, "--rules", "site.yaml")
    assert result.exit_code == 0, result.output
    record = "register/000004.json"
    assert run("verify", record, "--rules", "site.yaml").exit_code == 0
    without = run("verify", record)
    shown = flat(without.stdout)
    assert without.exit_code == 0
    assert "Rules today: built-in (no site rules given)" in shown
    assert "it was signed under rules 'our bench', which are not given today" in shown


@pytest.mark.parametrize("at", [0.1, 0.5, 0.999])
def test_a_changed_byte_is_found(signed: Path, at: float) -> None:
    path = Path("register/000002.json")
    data = bytearray(path.read_bytes())
    data[int(at * len(data))] ^= 0x02
    path.write_bytes(bytes(data))
    one, whole = run("verify", path), run("verify", "register")
    assert (one.exit_code, whole.exit_code) == (1, 1)
    assert "broken: it is not as it was signed" in flat(one.stdout)
    assert "000002.json has been changed" in flat(whole.stdout)
    assert "Rely on none of it" in flat(whole.stdout)
    assert one.stdout.rstrip().endswith("they hold.")


def test_an_expired_record_says_so(signed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    later = clock.now() + timedelta(days=31)
    monkeypatch.setattr(clock, "now", lambda: later)
    one, whole = run("verify", "register/000002.json"), run("verify", "register")
    assert one.exit_code == 1
    assert "it expired:" in flat(one.stdout)
    assert "Sign it again" in flat(one.stdout)
    assert whole.exit_code == 0
    assert "all of it holds; 3 expired" in flat(whole.stdout)
    asked = run("verify", "register", "--scenario", f"{DEMOS[1]}.yaml")
    assert asked.exit_code == 1


def test_a_record_from_the_future_says_that_a_clock_is_wrong(
    signed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    earlier = clock.now() - timedelta(days=1)
    monkeypatch.setattr(clock, "now", lambda: earlier)
    result = run("verify", "register/000002.json")
    assert result.exit_code == 1
    assert "one of the two clocks is wrong" in flat(result.stdout)


def test_a_register_that_holds(signed: Path) -> None:
    result = run("verify", "register")
    shown = flat(result.stdout)
    assert result.exit_code == 0, result.output
    assert "3 records, chained without a gap" in shown
    assert shown.count("a review asks for no more today") == 3
    assert shown.endswith(DEFERS)


def test_a_register_whose_newest_record_was_cut_off(signed: Path) -> None:
    Path("register/000003.json").unlink()
    result = run("verify", "register/000001.json")
    assert result.exit_code == 1
    assert "000003.json is missing" in flat(result.stdout)


def test_a_register_compared_with_a_scenario(signed: Path) -> None:
    file = signed / f"{DEMOS[1]}.yaml"
    file.write_text(f"# seen\n{file.read_text('utf-8')}", "utf-8")
    same = run("verify", "register", "--scenario", file.name)
    assert same.exit_code == 0
    assert "written in another way and says what was signed" in flat(same.stdout)
    shutil.copy(SCENARIOS / "bare_frame.yaml", "bare_frame.yaml")
    none = run("verify", "register", "--scenario", "bare_frame.yaml")
    assert none.exit_code == 1
    assert "no record here is of bare_frame.yaml: sign it" in flat(none.stdout)


def test_lines_fit_eighty_columns(signed: Path) -> None:
    Path("site.yaml").write_text(STRICTER, "utf-8")
    for arguments in (["register/000001.json", "--rules", "site.yaml"], ["register"]):
        assert max(map(len, run("verify", *arguments).stdout.splitlines())) <= 80
