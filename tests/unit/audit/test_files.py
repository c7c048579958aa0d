"""What an audit finds in folders: each file once, in a fixed order, and nothing opened blindly."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from review.audit.files import Found, Unreadable, content, find, is_head
from review.audit.store import own_files
from review.scenario.yaml import LARGEST_FILE


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to fill, below the one that commands are given in."""
    monkeypatch.chdir(tmp_path)
    folder = tmp_path / "lab"
    folder.mkdir()
    return folder


def write(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("title: a\n", encoding="utf-8")


def paths(*named: object) -> list[str]:
    return [found.shown for found in find([str(each) for each in named]).files]


def test_every_yaml_and_json_file_in_the_order_of_names(lab: Path) -> None:
    write(lab, "c.yaml", "a/z.YML", "a/b/deep.yaml", "b.json", ".hidden/x.yaml", "B.yaml")
    assert paths("lab") == [
        "lab/.hidden/x.yaml", "lab/B.yaml", "lab/a/b/deep.yaml", "lab/a/z.YML", "lab/b.json",
        "lab/c.yaml",
    ]  # fmt: skip


@pytest.mark.parametrize("named", ["lab", "lab/", "./lab", "./lab/."])
def test_a_folder_named_in_other_words_has_the_same_paths(lab: Path, named: str) -> None:
    write(lab, "x.yaml")
    assert paths(named) == ["lab/x.yaml"]


def test_paths_are_as_the_folder_is_named(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(lab, "sub/x.yaml")
    assert paths(lab) == [f"{lab.as_posix()}/sub/x.yaml"]
    monkeypatch.chdir(lab)
    assert paths(".") == ["sub/x.yaml"]
    assert paths("../lab") == ["../lab/sub/x.yaml"]


def test_folders_in_a_loop_of_links_are_walked_once(lab: Path) -> None:
    write(lab, "x.yaml", "sub/y.yaml")
    (lab / "sub" / "up").symlink_to(lab)
    (lab / "zzz").symlink_to(lab / "sub")
    (lab / "self").symlink_to(".")
    finds = find(["lab", "lab/sub"])
    assert [f.path for f in finds.files] == ["lab/sub/y.yaml", "lab/x.yaml"]
    assert not finds.unread


def test_a_file_that_has_several_names_is_met_once(lab: Path, tmp_path: Path) -> None:
    write(tmp_path, "elsewhere/real.yaml")
    (lab / "link.yaml").symlink_to(tmp_path / "elsewhere" / "real.yaml")
    (lab / "link too.yaml").symlink_to("link.yaml")
    os.link(tmp_path / "elsewhere" / "real.yaml", lab / "other name.yaml")
    assert paths("lab", "elsewhere") == ["lab/link too.yaml"]


def test_other_files_are_counted_and_those_of_a_register_and_the_store_passed_over(
    lab: Path,
) -> None:
    write(lab, "notes.txt", "photo.jpg", "audit.sqlite", "audit.sqlite-wal", "audit.sqlite.lock")
    write(lab, "000001.json.preparer.sig", ".lock", "x.yaml", "deep/audit.sqlite")
    finds = find(["lab"], own_files(Path("lab/audit.sqlite")))
    assert ([f.path for f in finds.files], finds.others) == (["lab/x.yaml"], 3)


def test_a_file_may_be_named_itself_whatever_its_name_is(lab: Path) -> None:
    write(lab, "setup.txt", "note.json")
    plain, record = find(["lab/setup.txt", "lab/note.json"]).files
    assert (plain.source, record.source) == ("scenario", "record")
    assert content(plain) == b"title: a\n"
    assert content(record) == b"title: a\n"
    assert [content(found) for found in find(["lab"]).files] == [None]


def test_links_that_lead_nowhere_are_seen(lab: Path) -> None:
    (lab / "gone.yaml").symlink_to("nothing")
    (lab / "lost folder").symlink_to("/nonexistent/share")
    (lab / "round.yaml").symlink_to("round.yaml")
    finds = find(["lab"]).files
    assert [(f.path, f.source) for f in finds] == [
        ("lab/gone.yaml", "scenario"), ("lab/lost folder", "other"), ("lab/round.yaml", "scenario"),
    ]  # fmt: skip
    assert [f.error for f in finds] == [
        "is a link that leads nowhere",
        "is a link that leads nowhere",
        f"cannot be read: {os.strerror(errno.ELOOP)}",
    ]


def test_a_folder_that_cannot_be_listed_is_seen(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(lab, "x.yaml", "shut/y.yaml")
    real = os.listdir

    def listdir(path: str) -> list[str]:
        if str(path).endswith("shut"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "listdir", listdir)
    finds = find(["lab"])
    shut, readable = finds.files
    assert shut == Found("lab/shut", "other", "the folder cannot be read: Permission denied")
    assert finds.unread == ["lab/shut"]
    assert readable.path == "lab/x.yaml"


def test_a_file_that_may_not_be_read_says_so(lab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write(lab, "x.yaml")
    (found,) = find(["lab"]).files

    def denied(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", denied)
    with pytest.raises(Unreadable, match="^cannot be read: Permission denied$"):
        content(found)


def test_pipes_are_never_opened(lab: Path) -> None:
    """Opening one for reading would wait for ever, and with it the audit."""
    os.mkfifo(lab / "pipe.yaml")
    os.mkfifo(lab / "pipe")
    finds = find(["lab"])
    (pipe,) = finds.files
    assert pipe.error == "is not a regular file, and was not opened"
    assert finds.others == 1


def test_a_file_that_became_a_pipe_is_not_waited_for(lab: Path) -> None:
    write(lab, "x.yaml")
    (found,) = find(["lab"]).files
    (lab / "x.yaml").unlink()
    os.mkfifo(lab / "x.yaml")
    with pytest.raises(Unreadable, match="not a regular file"):
        content(found)


def test_a_file_that_is_too_large_is_not_read(lab: Path) -> None:
    for name in ("big.yaml", "000001.json"):
        with (lab / name).open("wb") as file:
            file.write(b'{\n "answers": [')
            file.truncate(10**12)  # takes no room; nothing could read it in a test's time
    record, scenario = find(["lab"]).files
    with pytest.raises(Unreadable, match=f"^is too large: {10**12} bytes, at most {LARGEST_FILE}$"):
        content(scenario)
    with pytest.raises(Unreadable, match=f"^is too large: {10**12} bytes"):
        content(record)


def test_large_json_of_others_is_none_of_our_concern(lab: Path) -> None:
    with (lab / "data.json").open("wb") as file:
        file.write(b'{"spectrum": [')
        file.truncate(10**12)
    (found,) = find(["lab"]).files
    assert content(found) is None


RECORD = b'{\n "answers": [],\n "benchgate_record": 1,\n "previous": "",\n "seal": "0"\n}\n'


@pytest.mark.parametrize("at", range(len(RECORD)))
def test_a_record_is_one_whatever_byte_of_it_was_changed(lab: Path, at: int) -> None:
    changed = bytearray(RECORD)
    changed[at] ^= 1
    (lab / "signed.json").write_bytes(changed)
    (found,) = find(["lab"]).files
    assert content(found) == bytes(changed)


def test_what_lies_among_records_under_a_record_s_name_must_be_one(lab: Path) -> None:
    (lab / "head.json").write_text('{"benchgate_register": 1, "count": 2}')
    (lab / "000002.json").write_text("{}")
    (lab / "mine.json").write_text("{}")
    record, head, mine = find(["lab"]).files
    assert content(record) == b"{}"
    assert content(head) is None and is_head(head)
    assert content(mine) is None and not is_head(mine)


def test_names_that_are_no_text_have_a_row_all_the_same(lab: Path) -> None:
    with open(os.fsencode(lab) + b"/caf\xe9.yaml", "wb") as file:
        file.write(b"title: a\n")
    (found,) = find(["lab"]).files
    assert found.shown == r"lab/caf\xe9.yaml"
    assert content(found) == b"title: a\n"


def test_a_file_that_went_away_meanwhile_is_gone(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(lab, "x.yaml")
    real = os.listdir
    monkeypatch.setattr(os, "listdir", lambda path: [*real(path), "never.yaml"])
    assert paths("lab") == ["lab/x.yaml"]


@pytest.mark.parametrize("code", [errno.ENAMETOOLONG, errno.EACCES, errno.EIO])
def test_what_cannot_be_looked_at_is_not_taken_for_gone(
    lab: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    """Below a folder that may be listed and not entered, nothing says whether a file is there."""
    write(lab, "shut/y.yaml")
    real = os.stat

    def denied(path: str, *more: object, **named: object) -> os.stat_result:
        if str(path).endswith("y.yaml"):
            raise OSError(code, os.strerror(code))
        return real(path)

    monkeypatch.setattr(os, "stat", denied)
    monkeypatch.setattr(os.path, "lexists", lambda path: False)
    finds = find(["lab"])
    monkeypatch.undo()
    (found,) = finds.files
    assert found.path == "lab/shut/y.yaml"
    assert found.error == f"cannot be read: {os.strerror(code)}"
    assert finds.unread == ["lab/shut/y.yaml"]


def test_a_path_longer_than_the_system_takes_is_seen(lab: Path) -> None:
    here = os.open(lab, os.O_RDONLY)
    try:
        for _ in range(60):
            os.mkdir("d" * 100, dir_fd=here)
            there = os.open("d" * 100, os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = there
    finally:
        os.close(here)
    (found,) = find(["lab"]).files
    assert found.error == f"cannot be read: {os.strerror(errno.ENAMETOOLONG)}"


def test_no_two_names_have_one_row(lab: Path) -> None:
    for name in (b"n\xff.yaml", b"n\\xff.yaml", b"n\\\\xff.yaml", b"back\\slash.yaml"):
        with open(os.fsencode(lab) + b"/" + name, "wb") as file:
            file.write(b"title: a\n")
    shown = [found.shown for found in find(["lab"]).files]
    assert len(set(shown)) == 4
    assert r"lab/n\xff.yaml" in shown and r"lab/back\slash.yaml" in shown


def test_a_file_that_went_away_before_it_was_read_says_so(lab: Path) -> None:
    write(lab, "x.yaml")
    (found,) = find(["lab"]).files
    (lab / "x.yaml").unlink()
    with pytest.raises(Unreadable, match="^went away during the audit$"):
        content(found)


def test_a_store_with_the_name_of_a_scenario_is_passed_over(lab: Path) -> None:
    write(lab, "store.yaml", "x.yaml")
    finds = find(["lab"], own_files(Path("lab/store.yaml")))
    assert [found.path for found in finds.files] == ["lab/x.yaml"]
