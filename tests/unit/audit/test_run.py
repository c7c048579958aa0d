"""One audit after another into the same store: what is done again, and what is not."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import struct
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import pytest
import yaml

from review.audit import processes
from review.audit.files import find
from review.audit.processes import Here, Processes
from review.audit.progress import Progress
from review.audit.run import Audit, AuditError
from review.audit.store import Judged, Row, opened, reading
from review.audit.work import Desk, Measured, Recipe, Task, Text

SCENARIOS = Path(__file__).parents[3] / "scenarios"
FRAME, NITROGEN, ETHER, BATH = (
    SCENARIOS / f"{name}.yaml"
    for name in (
        "bare_frame",
        "nitrogen_dried",
        "diethyl_ether_on_a_hot_plate",
        "water_warmed_in_a_bath",
    )
)


@pytest.fixture(scope="module")
def desk() -> Desk:
    return Desk(Recipe())


class Watched(Here):
    """Works in this process, and notes what it was given."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.given: list[Task] = []

    def submit(self, task: Task) -> Future[Row | Judged]:
        self.given.append(task)
        return super().submit(task)


@dataclass
class Lab:
    """A folder of set-ups below the working directory, and the store of its audits."""

    folder: Path
    desk: Desk
    store: Path = Path("audit.sqlite")
    pool: Any = None
    audit: Audit | None = None
    given: list[tuple[str, str]] = field(default_factory=list)

    def add(self, name: str, source: Path) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, path)
        return path

    def run(self, *folders: str, desk: Desk | None = None, pool: Any = None) -> Audit:
        """Audit the folder; `given` then lists what work it took: path and kind."""
        desk = desk or self.desk
        pool = pool or Watched(desk)
        with opened(self.store) as store:
            audit = Audit(store, desk, pool, Progress(quiet=True))
            try:
                audit.run(find(folders or ["lab"]))
            finally:
                self.given = [(t.path, type(t).__name__) for t in getattr(pool, "given", ())]
        return audit

    def rows(self, what: str = "path, verdict") -> list[tuple[Any, ...]]:
        with reading(self.store) as store:
            return store.execute(f"SELECT {what} FROM setup ORDER BY path").fetchall()


@pytest.fixture
def lab(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, desk: Desk) -> Lab:
    monkeypatch.chdir(tmp_path)
    lab = Lab(tmp_path / "lab", desk)
    lab.add("a.yaml", FRAME)
    lab.add("sub/b.yaml", NITROGEN)
    return lab


VERDICTS = [("lab/a.yaml", "may proceed with conditions"), ("lab/sub/b.yaml", "may proceed")]


def test_every_file_has_a_row(lab: Lab) -> None:
    audit = lab.run()
    assert lab.rows() == VERDICTS
    assert (audit.reviewed, audit.unchanged, audit.judged, audit.gone) == (2, 0, 0, 0)
    assert lab.given == [("lab/a.yaml", "Text"), ("lab/sub/b.yaml", "Text")]


def test_what_has_not_changed_is_not_touched(lab: Lab) -> None:
    lab.run()
    before = dump(lab.store)
    audit = lab.run()
    assert (audit.reviewed, audit.unchanged, lab.given) == (0, 2, [])
    assert dump(lab.store) == before


def dump(path: Path) -> list[str]:
    store = sqlite3.connect(path)
    try:
        return list(store.iterdump())
    finally:
        store.close()


def test_errors_and_skipped_files_that_have_not_changed_stay_too(lab: Lab) -> None:
    (lab.folder / "wrong.yaml").write_text("train: [")
    (lab.folder / "rules.yaml").write_text("name: ours\ncriteria: []\n")
    first = lab.run()
    second = lab.run()
    assert (first.reviewed, second.reviewed, second.unchanged) == (4, 0, 4)
    assert lab.given == []


def test_a_scenario_written_as_json_is_reviewed_and_other_json_is_not(lab: Lab) -> None:
    told = yaml.load(NITROGEN.read_text("utf-8"), yaml.BaseLoader)  # every value as its text
    (lab.folder / "c.json").write_text(json.dumps(told), "utf-8")
    (lab.folder / "train.json").write_text('{"rides": ["train"]}')
    for named in ("lab", "lab/c.json"):
        audit = lab.run(named)
        assert ("lab/c.json", "scenario", "may proceed") in lab.rows("path, source, verdict")
    assert audit.unchanged == 1
    assert len(lab.rows()) == 3


def test_a_file_that_changed_is_reviewed_anew(lab: Lab) -> None:
    lab.run()
    lab.add("a.yaml", ETHER)
    lab.run()
    assert lab.given == [("lab/a.yaml", "Text")]
    assert lab.rows()[0] == ("lab/a.yaml", "must not proceed")


def test_a_file_that_is_only_newer_is_not(lab: Lab) -> None:
    lab.run()
    os.utime(lab.folder / "a.yaml", (2e9, 2e9))
    lab.run()
    assert lab.given == []


def test_files_that_are_gone_lose_their_row_and_other_folders_keep_theirs(lab: Lab) -> None:
    shutil.copytree(lab.folder, "other")
    lab.run("lab", "other")
    (lab.folder / "a.yaml").unlink()
    audit = lab.run("lab")
    assert (audit.gone, audit.unchanged) == (1, 1)
    assert [path for path, _ in lab.rows()] == [
        "lab/sub/b.yaml",
        "other/a.yaml",
        "other/sub/b.yaml",
    ]


def test_a_folder_without_set_ups_costs_no_row(lab: Lab) -> None:
    """It may be a disk that is not mounted now."""
    lab.run()
    shutil.rmtree(lab.folder)
    lab.folder.mkdir()
    with pytest.raises(AuditError, match="there is no scenario and no record in lab"):
        lab.run()
    assert lab.rows() == VERDICTS


# Rules


def rules(text: str) -> Desk:
    path = Path("site.yaml")
    path.write_text(f"name: our bench\n{text}", "utf-8")
    return Desk(Recipe(rules=(str(path),)))


def test_new_bands_only_judge_the_stored_measures_again(lab: Lab, desk: Desk) -> None:
    lab.run()
    measures = lab.rows("path, measures, file_sha256, facts, seconds")
    band = _a_band_of(lab)
    stricter = rules(
        f"criteria:\n- {{id: {band}, bands: {{acceptable: -1e9}}, reason: invented}}\n"
    )
    audit = lab.run(desk=stricter)
    assert (audit.judged, audit.reviewed) == (2, 0)
    assert {kind for _, kind in lab.given} == {"Measured"}
    assert lab.rows("path, measures, file_sha256, facts, seconds") == measures
    fresh = stricter.reviewed(Text("lab/a.yaml", "scenario", FRAME.read_bytes()))
    assert fresh.findings != desk.reviewed(Text("a", "scenario", FRAME.read_bytes())).findings
    assert _findings(lab, "lab/a.yaml") == list(fresh.findings)
    assert lab.rows("DISTINCT rules") == [(stricter.key.rules,)]
    assert lab.run(desk=stricter).unchanged == 2


def _a_band_of(lab: Lab) -> str:
    """A rule that the frame is judged by, with a number."""
    with reading(lab.store) as store:
        (found,) = store.execute(
            "SELECT min(criterion) FROM finding WHERE path = 'lab/a.yaml'"
            " AND grade = 'acceptable' AND limit_value > 0"
        ).fetchone()
    return str(found)


def _findings(lab: Lab, path: str) -> list[tuple[Any, ...]]:
    with reading(lab.store) as store:
        rows = store.execute("SELECT * FROM finding WHERE path = ? ORDER BY position", (path,))
        return [row[2:] for row in rows]


def test_a_limit_that_checks_read_means_reviewing_anew(lab: Lab) -> None:
    lab.run()
    other = rules("limits:\n  flammability.lean_share: {value: 0.2, source: ours, how: read}\n")
    lab.run(desk=other)
    assert {kind for _, kind in lab.given} == {"Text"}
    assert lab.rows("DISTINCT rules") == [(other.key.rules,)]


def test_a_set_up_that_some_check_failed_on_is_reviewed_anew(lab: Lab) -> None:
    site = Path("site.py")
    site.write_text(
        "from review import hookimpl\n@hookimpl\ndef upsets(scenario):\n"
        "    assert 'dried' not in scenario.title\n    return []\n"
    )
    lab.run(desk=Desk(Recipe(plugins=("site.py",))))
    Path("site.yaml").write_text("name: our bench\ncontacts: [the desk]\n")
    lab.run(desk=Desk(Recipe(plugins=("site.py",), rules=("site.yaml",))))
    assert lab.given == [("lab/a.yaml", "Measured"), ("lab/sub/b.yaml", "Text")]


def test_a_check_that_failed_is_tried_again(lab: Lab) -> None:
    """It may have been short of time; nothing else would ever make the row another."""
    Path("site.py").write_text(
        "from pathlib import Path\nfrom review import hookimpl\n@hookimpl\n"
        "def upsets(scenario):\n    assert Path('mounted').exists()\n    return []\n"
    )
    desk = Desk(Recipe(plugins=("site.py",)))
    lab.run(desk=desk)
    assert {verdict for _, verdict in lab.rows()} == {"cannot be judged"}
    Path("mounted").touch()
    lab.run(desk=desk)
    assert lab.rows() == VERDICTS
    lab.run(desk=desk)
    assert lab.given == []


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE setup SET data = '[{' WHERE path = 'lab/a.yaml'",
        "UPDATE setup SET facts = '[{' WHERE path = 'lab/a.yaml'",
        "UPDATE setup SET verdict = 'may proceed' WHERE path = 'lab/a.yaml'",
        "UPDATE finding SET grade = 'acceptable' WHERE path = 'lab/a.yaml'",
        "UPDATE finding SET value = value * 2 + 1 WHERE path = 'lab/a.yaml'",
        "DELETE FROM finding WHERE path = 'lab/a.yaml' AND position = 0",
        "DELETE FROM checksum WHERE path = 'lab/a.yaml'",
        "DROP TABLE checksum",
    ],
)
def test_a_damaged_row_is_reviewed_anew(lab: Lab, damage: str) -> None:
    lab.run()
    store = sqlite3.connect(lab.store)
    with store:
        store.execute(damage)
    store.close()
    lab.run()
    if damage.startswith("DROP"):  # as in a store that was written before there were any
        assert lab.given == [("lab/a.yaml", "Text"), ("lab/sub/b.yaml", "Text")]
        return
    assert lab.given == [("lab/a.yaml", "Text")]
    assert lab.rows() == VERDICTS


def test_what_broke_otherwise_than_by_the_file_is_tried_again(
    lab: Lab, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def short(*_: object) -> None:
        raise MemoryError("cannot allocate")

    with monkeypatch.context() as patch:
        patch.setattr(desk.engine, "review", short)
        lab.run()
    assert lab.rows("error") == [("MemoryError: cannot allocate",)] * 2
    lab.run()
    assert lab.rows() == VERDICTS


def test_plugins_and_code_that_changed_mean_reviewing_anew(
    lab: Lab, monkeypatch: pytest.MonkeyPatch
) -> None:
    lab.run()
    site = Path("site.py")
    for body in ("return []", "return list()"):
        site.write_text(f"from review import hookimpl\n@hookimpl\ndef upsets(scenario): {body}\n")
        assert lab.run(desk=Desk(Recipe(plugins=("site.py",)))).reviewed == 2
    monkeypatch.setattr("review.audit.work.code_hash", lambda: "other code")
    assert lab.run(desk=Desk(Recipe(plugins=("site.py",)))).reviewed == 2


# Reference data


def site_data(**files: str) -> Desk:
    """An engine whose site has data of its own; `files` are by folder and name."""
    for name, text in files.items():
        path = Path("data") / f"{name.replace('__', '/')}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    folder = str(Path("data").resolve())
    Path("site.py").write_text(
        "from pathlib import Path\nfrom review import hookimpl\n"
        f"@hookimpl\ndef substances(): return [Path({folder!r})]\n"
        f"@hookimpl\ndef materials(): return [Path({folder!r})]\n"
    )
    return Desk(Recipe(plugins=("site.py",)))


def shipped(name: str) -> str:
    return (SCENARIOS.parent / "rulesets" / f"{name}.yaml").read_text("utf-8")


def test_a_data_file_that_changed_makes_stale_what_looked_it_up(lab: Lab) -> None:
    """Of the two set-ups only the second has PTFE in it."""
    ptfe = shipped("materials/ptfe")
    lab.run(desk=site_data(materials__ptfe=ptfe))
    lab.run(desk=site_data(materials__ptfe=ptfe + "\n# ours\n"))
    assert lab.given == [("lab/sub/b.yaml", "Text")]
    lab.run(desk=site_data())
    assert lab.given == []


def test_a_data_file_that_changes_while_it_is_read_counts_as_another(
    lab: Lab, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The row rests on what was read, so it must not be taken for one of what is there now."""
    from review.reference import finding as reference

    desk = site_data(substances__nitrogen=shipped("substances/nitrogen"))
    changed = Path("data/substances/nitrogen.yaml")
    real = reference.read_substance

    def slow(path: Path) -> Any:
        read = real(path)
        if path == changed.resolve():
            changed.write_text(f"# edited\n{changed.read_text('utf-8')}", "utf-8")
        return read

    desk.engine.reference.names("substances")
    monkeypatch.setattr(reference, "read_substance", slow)
    lab.run(desk=desk)
    monkeypatch.undo()
    monkeypatch.chdir(lab.folder.parent)
    lab.run(desk=Desk(Recipe(plugins=("site.py",))))
    assert ("lab/sub/b.yaml", "Text") in lab.given


def test_a_name_that_was_unknown_and_now_is_known_makes_its_row_stale(lab: Lab) -> None:
    text = NITROGEN.read_text("utf-8").replace("{nitrogen: 100 %}", "{unobtainium: 100 %}")
    (lab.folder / "sub" / "b.yaml").write_text(text, "utf-8")
    lab.run(desk=site_data())
    assert lab.rows("state") == [("reviewed",), ("error",)]
    argon = shipped("substances/argon")
    unobtainium = argon.replace("name: argon", "name: unobtainium")
    for line in argon.splitlines():
        if line.startswith(("synonyms:", "cas:", "formula:")):
            key = line.split(":")[0]
            new = {"synonyms": "[]", "cas": "none", "formula": "none"}[key]
            unobtainium = unobtainium.replace(line, f"{key}: {new}")
    lab.run(desk=site_data(substances__unobtainium=unobtainium))
    assert lab.given == [("lab/sub/b.yaml", "Text")]
    assert lab.rows("state, error") == [("reviewed", None)] * 2


# Workers that die


class Died(Exception):
    """As a pool says it of a worker that is no more."""


class Fragile(Watched):
    """Four tasks at a time; some files cost the worker its life."""

    width = 4
    died = (Died,)

    def __init__(self, desk: Desk, deadly: Callable[[str], bool]) -> None:
        super().__init__(desk)
        self.deadly = deadly

    def submit(self, task: Task) -> Future[Row | Judged]:
        if not self.deadly(task.path):
            return super().submit(task)
        self.given.append(task)
        future: Future[Row | Judged] = Future()
        future.set_exception(Died())
        return future


def test_a_file_that_kills_its_worker_costs_itself_alone(lab: Lab) -> None:
    for name in "cdefgh":
        lab.add(f"{name}.yaml", FRAME)
    pool = Fragile(lab.desk, lambda path: path in ("lab/d.yaml", "lab/e.yaml"))
    lab.run(pool=pool)
    errors = {path: error for path, error in lab.rows("path, error")}
    assert len(errors) == 8
    for deadly in ("lab/d.yaml", "lab/e.yaml"):
        assert errors.pop(deadly, "").startswith("the process that reviewed it died, twice")
    assert set(errors.values()) == {None}
    assert [t.path for t in pool.given].count("lab/d.yaml") == 2


def test_a_worker_that_died_for_another_reason_costs_nothing(lab: Lab) -> None:
    killed = iter([True])
    pool = Fragile(lab.desk, lambda path: next(killed, False))
    lab.run(pool=pool)
    assert lab.rows() == VERDICTS


def test_a_real_process_that_ends_while_it_reviews(lab: Lab) -> None:
    Path("site.py").write_text(
        "import os\nfrom review import hookimpl\n@hookimpl\ndef upsets(scenario):\n"
        "    if 'ether' in scenario.title:\n        os._exit(9)\n    return []\n"
    )
    lab.add("c.yaml", ETHER)
    lab.add("d.yaml", BATH)
    recipe = Recipe(plugins=("site.py",))
    lab.run(desk=Desk(recipe), pool=Processes(recipe, 2))
    assert lab.rows("path, state, verdict") == [
        ("lab/a.yaml", "reviewed", "may proceed with conditions"),
        ("lab/c.yaml", "error", None),
        ("lab/d.yaml", "reviewed", "may proceed"),
        ("lab/sub/b.yaml", "reviewed", "may proceed"),
    ]


def half_an_answer(pipe: Connection, recipe: Recipe) -> None:
    """A worker's life that ends, or is ended, in the middle of an answer."""
    pipe.recv()
    os.write(pipe.fileno(), struct.pack("!i", 1000) + b"a hundredth")
    for marker in recipe.rules:
        Path(marker).touch()
        threading.Event().wait(60)


@pytest.mark.parametrize("killed", [True, False], ids=["killed", "closed"])
def test_a_worker_that_ends_in_the_middle_of_an_answer(
    killed: bool, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(processes, "_serve", half_an_answer)
    begun = tmp_path / "begun"
    pool = Processes(Recipe(rules=() if killed else (str(begun),)), 1)
    future = pool.submit(Text("a.yaml", "scenario", b""))
    if killed:
        with pytest.raises(pool.died):
            future.result(timeout=30)
    else:
        for _ in range(600):
            if begun.exists():
                break
            time.sleep(0.05)
        assert begun.exists()
    closing = threading.Thread(target=pool.close, daemon=True)
    closing.start()
    closing.join(30)
    assert not closing.is_alive()
    assert isinstance(future.exception(timeout=30), pool.died)


def test_workers_that_start_at_once_leave_what_is_wrong_to_the_first_task(lab: Lab) -> None:
    pool = Processes(Recipe(rules=("no such file.yaml",)), 1, at_once=True)
    try:
        future = pool.submit(Text("lab/a.yaml", "scenario", FRAME.read_bytes()))
        with pytest.raises(AuditError, match="no such file.yaml"):
            future.result(timeout=60)
    finally:
        pool.close()


# Ends


class Interrupted(Watched):
    """Somebody presses Ctrl-C while the second file is under way; the first is done by then."""

    width = 2
    closed = False

    def submit(self, task: Task) -> Future[Row | Judged]:
        if self.given:
            raise KeyboardInterrupt
        return super().submit(task)

    def close(self) -> None:
        self.closed = True


def test_an_interruption_keeps_what_is_done(lab: Lab) -> None:
    pool = Interrupted(lab.desk)
    with pytest.raises(KeyboardInterrupt):
        lab.run(pool=pool)
    assert pool.closed
    assert lab.rows() == VERDICTS[:1]
    lab.run()
    assert lab.given == [("lab/sub/b.yaml", "Text")]


def test_a_worker_with_other_rules_or_code_is_not_believed(lab: Lab) -> None:
    class Other(Watched):
        def submit(self, task: Task) -> Future[Row | Judged]:
            future: Future[Row | Judged] = Future()
            future.set_result(replace(super().submit(task).result(), code="other"))
            return future

    with pytest.raises(AuditError, match="plugins or code changed while the audit ran"):
        lab.run(pool=Other(lab.desk))
    assert lab.rows() == []


def test_text_that_no_database_can_hold_is_that_row_s_error(lab: Lab) -> None:
    class Odd(Watched):
        def submit(self, task: Task) -> Future[Row | Judged]:
            future: Future[Row | Judged] = Future()
            row = super().submit(task).result()
            assert isinstance(row, Row)
            future.set_result(replace(row, title="\udcff") if "a.yaml" in task.path else row)
            return future

    lab.run(pool=Odd(lab.desk))
    assert lab.rows("state") == [("error",), ("reviewed",)]


def test_memory_is_bounded_by_what_is_under_way(lab: Lab) -> None:
    """However many files there are, a pool is given no more of them at a time than it asks for."""
    for number in range(30):
        lab.add(f"more/{number}.yaml", FRAME)

    class Slow(Watched):
        width = 3
        most = 0

        def __init__(self, desk: Desk) -> None:
            super().__init__(desk)
            self.open: list[tuple[Future[Row | Judged], Task]] = []

        def submit(self, task: Task) -> Future[Row | Judged]:
            future: Future[Row | Judged] = Future()
            self.open.append((future, task))
            self.most = max(self.most, len(self.open))
            if len(self.open) == self.width or task.path == "lab/sub/b.yaml":
                for each, waiting in self.open:
                    each.set_result(self._desk.do(waiting))
                self.open = []
            return future

    pool = Slow(lab.desk)
    lab.run(pool=pool)
    assert len(lab.rows()) == 32
    assert pool.most == 3


def test_measures_are_handed_on_with_the_text(lab: Lab) -> None:
    lab.run()
    pool = Watched(rules("contacts: [the desk]\n"))
    lab.run(desk=pool._desk, pool=pool)
    (first, _) = pool.given
    assert isinstance(first, Measured) and first.content == FRAME.read_bytes()
