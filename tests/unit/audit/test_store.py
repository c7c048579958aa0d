"""The store: whose file it is, one writer at a time, rows whole or not at all."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from filelock import FileLock

from review.audit.database import StoreError
from review.audit.store import Judged, Row, Store, opened, reading

FINDING = (
    "a.limit", "A title", "a.kind", "tube", "hydrogen", "unacceptable", "ok", "upset", "a trial",
    "heat", 1.5, "Pa", 1.0, "Do less.", "because", 1, None, None,
)  # fmt: skip
UPSET = (
    "lost", "The flow is lost", "tolerable", "a.limit", "tube", "", "heat", None, "Pa", 30.0, ""
)  # fmt: skip


def row(path: str, **told: object) -> Row:
    plain = Row(path, "scenario", "reviewed", "rules", "code", "[]", "2031-05-06T07:08:09Z", 0.5)
    given = {"findings": (FINDING, FINDING), "upsets": (UPSET,), "verdict": "must not proceed"}
    return replace(plain, **(given | told))


def filled(path: Path, *names: str) -> Path:
    with opened(path) as store:
        store.put_ruleset("rules", "{}", {"a.limit": "hash"})
        for name in names:
            store.see(name)
            store.put(row(name))
    return path


def counts(path: Path) -> dict[str, int]:
    with reading(path) as store:
        return {
            table: store.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
            for table in ("setup", "finding", "upset", "ruleset", "criterion")
        }


def test_what_is_put_can_be_queried(tmp_path: Path) -> None:
    filled(tmp_path / "audit.sqlite", "lab/x.yaml")
    plain = sqlite3.connect(tmp_path / "audit.sqlite")
    assert plain.execute(
        "SELECT path, position, at, of, value, limit_value FROM finding JOIN setup USING (path)"
        " WHERE grade = 'unacceptable' ORDER BY position"
    ).fetchall() == [
        ("lab/x.yaml", 0, "tube", "hydrogen", 1.5, 1.0),
        ("lab/x.yaml", 1, "tube", "hydrogen", 1.5, 1.0),
    ]
    assert plain.execute("SELECT id, value, seconds FROM upset").fetchall() == [
        ("lost", None, 30.0)
    ]
    assert plain.execute("PRAGMA application_id").fetchone() == (0x62676174,)
    assert plain.execute("PRAGMA user_version").fetchone() == (2,)
    plain.close()


def test_a_row_takes_the_place_of_the_one_before(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", "lab/x.yaml", "lab/x.yaml")
    assert counts(path) == {"setup": 1, "finding": 2, "upset": 1, "ruleset": 1, "criterion": 1}


def test_judging_again_replaces_findings_and_keeps_the_measures(tmp_path: Path) -> None:
    with opened(tmp_path / "audit.sqlite") as store:
        for rules in ("rules", "others"):
            store.put_ruleset(rules, "{}", {})
        store.put(row("lab/x.yaml", measures=b"packed", facts="{}"))
        judged = Judged("lab/x.yaml", "others", "may proceed", "2032-01-01T00:00:00Z", (), (UPSET,))
        store.put_judged(judged)
        known = store.known("lab/x.yaml")
        assert known and (known.rules, known.verdict) == ("others", "may proceed")
        assert known.has_measures and store.measured("lab/x.yaml") == (b"packed", "{}")
    assert counts(tmp_path / "audit.sqlite")["finding"] == 0
    assert counts(tmp_path / "audit.sqlite")["upset"] == 1


def test_a_row_that_cannot_be_written_whole_leaves_the_old_one(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", "lab/x.yaml")
    with pytest.raises(sqlite3.IntegrityError), opened(path) as store:
        store.put(row("lab/x.yaml", verdict="may proceed", upsets=(UPSET, UPSET)))  # an id twice
    with reading(path) as plain:
        assert plain.execute("SELECT verdict FROM setup").fetchone() == ("must not proceed",)
    assert counts(path)["finding"] == 2


# What is gone


def test_rows_of_files_that_are_gone_are_dropped_and_others_stay(tmp_path: Path) -> None:
    path = filled(
        tmp_path / "audit.sqlite", "lab/x.yaml", "lab/y.yaml", "lab 2/x.yaml", "lab/shut/x.yaml"
    )
    with opened(path) as store:
        store.see("lab/x.yaml")
        assert store.forget_gone(["lab"], ["lab/shut"]) == 1
        assert store.tally() == {("reviewed", "must not proceed"): 1}
    with reading(path) as plain:
        left = plain.execute("SELECT path FROM setup ORDER BY path").fetchall()
    assert left == [("lab 2/x.yaml",), ("lab/shut/x.yaml",), ("lab/x.yaml",)]
    assert counts(path)["finding"] == 6


def test_rules_that_no_row_rests_on_are_dropped(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", "lab/x.yaml")
    with opened(path) as store:
        store.put_ruleset("newer", "{}", {"a.limit": "other hash", "b.limit": "hash"})
        store.see("lab/x.yaml")
        store.put(row("lab/x.yaml", rules="newer"))
        store.forget_gone(["lab"], [])
        assert store.ruleset("rules") is None and store.ruleset("newer") == "{}"
    assert counts(path)["criterion"] == 2


# Files that are no store of ours


def other_database(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE stock(name)")
        other.execute("INSERT INTO stock VALUES ('beakers')")
    other.close()


def of_version(number: int) -> Callable[[Path], object]:
    def make(path: Path) -> None:
        filled(path, "lab/x.yaml")
        with sqlite3.connect(path) as store:
            store.execute("PRAGMA journal_mode = DELETE")
            store.execute(f"PRAGMA user_version = {number}")
        store.close()

    return make


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: path.write_text("my notes\n" * 100), "is no store of an audit"),
        (lambda path: path.write_bytes(b""), "is no store of an audit"),
        (lambda path: path.write_bytes(b"SQLite format 3\0"), "is no store of an audit"),
        (other_database, "is the database of another program"),
        (of_version(3), "was written by a newer version of benchgate (store version 3"),
        (of_version(0), "was written by an older version of benchgate (store version 0"),
    ],
    ids=["text", "empty", "cut short", "another program's", "newer", "older"],
)
def test_a_file_that_is_no_store_of_this_version_stays_as_it_is(
    tmp_path: Path, make: Callable[[Path], object], said: str
) -> None:
    path = tmp_path / "audit.sqlite"
    make(path)
    before = path.read_bytes()
    for use in (opened, reading):
        with pytest.raises(StoreError) as error, use(path):
            pass
        assert str(path) in str(error.value) and said in str(error.value)
    assert path.read_bytes() == before
    assert {p.name for p in tmp_path.iterdir()} <= {"audit.sqlite", "audit.sqlite.lock"}


def test_a_place_that_cannot_hold_a_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(StoreError, match="there is no folder"), opened(tmp_path / "no" / "a"):
        pass
    with pytest.raises(StoreError, match="is not a regular file"), opened(tmp_path):
        pass
    with pytest.raises(StoreError, match="no such file"), reading(tmp_path / "a"):
        pass

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(FileLock, "acquire", denied)
    with (
        pytest.raises(StoreError, match=r"a\.lock cannot be written: Permission denied"),
        opened(tmp_path / "a"),
    ):
        pass


def test_a_store_that_was_never_finished_is_begun_again(tmp_path: Path) -> None:
    """Killed while it was made, there is no store yet: only what was to become one."""
    (tmp_path / "audit.sqlite.new").write_bytes(b"SQLite format 3\0 half of it")
    assert counts(filled(tmp_path / "audit.sqlite", "lab/x.yaml"))["setup"] == 1


# One writer


def test_a_store_is_the_same_by_a_link_to_it(tmp_path: Path) -> None:
    path, link = filled(tmp_path / "audit.sqlite", "lab/x.yaml"), tmp_path / "link.sqlite"
    link.symlink_to(path)
    for first, second in ((path, link), (link, path)):
        with (
            opened(first),
            pytest.raises(StoreError, match="another audit is writing to"),
            opened(second),
        ):
            raise AssertionError("two audits write to one store")


def test_a_second_writer_is_turned_away_and_a_reader_is_not(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", "lab/x.yaml")
    with opened(path) as first:
        first.see("lab/x.yaml")
        with pytest.raises(StoreError, match="another audit is writing to"), opened(path):
            pass
        first.put(row("lab/y.yaml"))
        assert counts(path)["setup"] == 2
    with opened(path):
        pass


def test_a_writer_that_was_killed_holds_nothing(tmp_path: Path) -> None:
    path = tmp_path / "audit.sqlite"
    code = (
        "import os, sys; from pathlib import Path; from review.audit.store import opened\n"
        "with opened(Path(sys.argv[1])): os.kill(os.getpid(), 9)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], timeout=60, check=False)
    assert done.returncode == -9
    assert counts(filled(path, "lab/x.yaml"))["setup"] == 1


# When the disk is full


def few_pages(store: Store, more: int) -> None:
    """As if the disk had room for so many pages more: SQLite then says that it is full."""
    (now,) = store.connection.execute("PRAGMA page_count").fetchone()
    store.connection.execute(f"PRAGMA max_page_count = {now + more}")


def test_a_full_disk_costs_what_was_not_yet_written(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", "lab/a.yaml")
    written = 0
    with pytest.raises(StoreError) as error, opened(path) as store:
        few_pages(store, 40)
        for written in range(1000):
            store.put(row(f"lab/{written}.yaml", measures=b"x" * 20_000))
    assert "database or disk is full" in str(error.value)
    assert "What was stored before stays" in str(error.value)
    assert 1 < written < 40
    assert counts(path) == {
        "setup": 1 + written, "finding": 2 + 2 * written, "upset": 1 + written, "ruleset": 1,
        "criterion": 1,
    }  # fmt: skip
    with opened(path) as store:  # there is room again
        store.put(row(f"lab/{written}.yaml"))


def test_a_damaged_store_is_said_to_be_damaged(tmp_path: Path) -> None:
    path = filled(tmp_path / "audit.sqlite", *(f"lab/{n}.yaml" for n in range(200)))
    data = bytearray(path.read_bytes())
    data[4096:] = bytes(len(data) - 4096)
    path.write_bytes(data)
    with pytest.raises(StoreError, match=r"is damaged: .*malformed"), opened(path) as store:
        store.put(row("lab/x.yaml"))
