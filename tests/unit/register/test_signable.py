"""Records that nobody could have signed, signatures that show less, a head that is gone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from stand import NOW, STAND, both, lines, point, sign

from review.engine.reviewing import Engine
from review.register.head import EMPTY
from review.register.verifying import Verifier


def until(days: int) -> Callable[[dict[str, Any]], None]:
    def change(body: dict[str, Any]) -> None:
        body["valid_until"] = (NOW.date() + timedelta(days)).isoformat()

    return change


def test_nobody_can_sign_for_years(tmp_path: Path, engine: Engine) -> None:
    found = Verifier(engine, NOW).record(sign(tmp_path, engine, until(4000)))
    assert not found.holds
    assert "nobody can sign for more than 366 days" in lines(found, "Sign-off today")


def test_the_longest_time_may_be_reckoned_a_day_ahead_of_utc(
    tmp_path: Path, engine: Engine
) -> None:
    assert Verifier(engine, NOW).record(sign(tmp_path, engine, until(367))).holds


@pytest.mark.parametrize("said", ["", "not done", "..."])
def test_a_record_in_which_nobody_confirmed_anything_does_not_hold(
    tmp_path: Path, engine: Engine, said: str
) -> None:
    def change(body: dict[str, Any]) -> None:
        body["conditions"][0]["confirmed"] = said

    found = Verifier(engine, NOW).record(sign(tmp_path, engine, change))
    assert not found.holds
    assert "a sign-off would be refused" in lines(found, "Sign-off today")


@pytest.mark.parametrize("left", ["another record", "the lock"])
def test_a_register_that_lost_its_head_is_no_lone_record(
    tmp_path: Path, engine: Engine, left: str
) -> None:
    first = sign(tmp_path, engine)
    second = sign(tmp_path, engine, now=NOW + timedelta(minutes=1))
    (first.parent / "head.json").unlink()
    (first.parent / ".lock" if left == "another record" else second).unlink()
    found = Verifier(engine, NOW).record(first)
    assert not found.holds
    assert "head.json is missing" in lines(found, "Register")


def test_a_link_to_a_record_is_looked_at_where_the_record_is(
    tmp_path: Path, engine: Engine
) -> None:
    path = sign(tmp_path, engine)
    (tmp_path / "elsewhere").mkdir()
    link = tmp_path / "elsewhere" / "signed.json"
    link.symlink_to(path)
    verifier = Verifier(engine, NOW)
    assert "stands in its place" in lines(verifier.record(link), "Register")
    (path.parent / "head.json").write_text("changed", "utf-8")
    assert not verifier.record(link).holds


def public(key: Path) -> str:
    return " ".join(key.with_name(f"{key.name}.pub").read_text("utf-8").split()[:2])


def test_a_key_that_is_allowed_for_everybody_shows_nobody(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    allowed = tmp_path / "allowed"
    rows = [f"*teacher {public(keys['preparer'])}", f'"second teacher" {public(keys["reviewer"])}']
    allowed.write_text("\n".join(rows) + "\n", "utf-8")
    found = Verifier(engine, NOW, allowed).record(sign(tmp_path, engine, keys=both(keys)))
    first, second = point(found, "Signatures").lines
    assert "everybody who fits '*teacher'" in first and "nothing shows" in first
    assert second == "reviewer: signed by second teacher, whose key is allowed"


def test_a_key_of_the_person_for_another_purpose_is_not_told_to_be_of_somebody_else(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    allowed = tmp_path / "allowed"
    rows = [
        f'teacher namespaces="file" {public(keys["preparer"])}',
        f'"second teacher" {public(keys["reviewer"])}',
    ]
    allowed.write_text("\n".join(rows) + "\n", "utf-8")
    found = Verifier(engine, NOW, allowed).record(sign(tmp_path, engine, keys=both(keys)))
    assert not found.holds
    [first, _] = point(found, "Signatures").lines
    assert "does not count" in first and "not of teacher" not in first


def test_a_register_says_that_nobody_looked_whose_the_keys_are(
    tmp_path: Path, engine: Engine, keys: dict[str, Path]
) -> None:
    folder = sign(tmp_path, engine, keys=both(keys)).parent
    found = Verifier(engine, NOW).register(folder)
    assert found.holds
    [said] = [p for p in found.points if p.subject == "Signatures"]
    assert "was not checked" in said.lines[0]


def test_a_file_that_is_none_of_its_records_does_not_hide_a_register(
    tmp_path: Path, engine: Engine
) -> None:
    folder = sign(tmp_path, engine).parent
    (folder / "2031.json").write_text("{}", "utf-8")
    assert Verifier(engine, NOW).register(folder).holds
    (folder / "000002.json").write_text("{}", "utf-8")
    found = Verifier(engine, NOW).register(folder)
    assert not found.holds
    assert [each.name for each in found.records] == ["000001.json", "000002.json"]
    assert "000002.json is no record" in lines(found.records[1], "Record")


def test_a_set_up_that_was_signed_often_is_reviewed_once(
    tmp_path: Path, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    for minutes in range(3):
        folder = sign(tmp_path, engine, now=NOW + timedelta(minutes=minutes)).parent
    other = sign(tmp_path, engine, text=f"# another\n{STAND}", now=NOW + timedelta(minutes=3))
    seen: list[str] = []
    review = engine.review
    monkeypatch.setattr(
        engine, "review", lambda scenario: seen.append(scenario.text_sha256) or review(scenario)
    )
    found = Verifier(engine, NOW).register(folder)
    assert found.holds and len(found.records) == 4 and other.name == found.records[3].name
    assert len(seen) == 2


def test_a_register_without_a_record_holds_nothing(tmp_path: Path, engine: Engine) -> None:
    (tmp_path / "head.json").write_bytes(EMPTY.to_bytes())
    found = Verifier(engine, NOW).register(tmp_path)
    assert not found.holds
    assert "nothing is signed here" in found.points[0].lines[0]
