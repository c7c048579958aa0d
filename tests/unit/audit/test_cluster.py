"""The same audit on a real cluster of two worker processes of this machine."""

from __future__ import annotations

import json
import os
import socket
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from review.audit import cluster as module
from review.audit.cluster import Cluster, ClusterError
from review.audit.files import find
from review.audit.processes import Here
from review.audit.progress import Progress
from review.audit.remote import _unpacked, answer, kit_of
from review.audit.run import Audit
from review.audit.store import opened
from review.audit.work import AuditError, Desk, Recipe, Text

distributed = pytest.importorskip("distributed")

SCENARIO = """
title: {title}
reagents:
  nitrogen: {{state: gas, composition: {{nitrogen: 100 %}}, held: {{as: cylinder, volume: 10 L,
    pressure: 150 bar gauge, regulator: 0.1 bar gauge}}}}
flows:
  feed: {{reagent: nitrogen, into: bulb, rate: {rate} mL/min, reference: standard,
    at_most: 2 L/min}}
train:
  - {{id: bulb, kind: trap, gas_volume: 500 mL, rating: 1 bar gauge, joint: screw-thread connector,
     material: borosilicate glass 3.3}}
  - {{id: outlet, kind: outlet, to: outdoors}}
ventilation: {{room_volume: 60 m3, air_changes: 4 / hour}}
procedure:
  - {{step: flush, duration: 10 min, flows: {{feed: on}}}}
"""
RULES = """
name: our bench
criteria:
  - id: pressure.working
    bands: {acceptable: 0.1, tolerable: 0.15}
    bands_in: {upset: {acceptable: 0.1, tolerable: 0.15}}
"""
#: A measure that costs the process its life where the set-up says so, and keeps count of it.
PLUGIN = """
import os
from review import Check, Computation, Kind, Method, hookimpl

KIND = Kind("own.nothing", "Nothing", "higher", "1", "", "own.nothing", "invented", "all")

@hookimpl
def check():
    return Check("own", "Own", "1.0", ("nothing",), ("all else",), ("invented",))

def compute(setup):
    if setup.scenario.title == "deadly":
        with open({counter!r}, "a") as file:
            file.write("x")
        os._exit(1)
    return []

@hookimpl
def measures():
    return [Computation((KIND,), compute)]
"""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as two:
        yield two.scheduler_address


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    there = tmp_path / "lab"
    there.mkdir()
    for number in range(5):
        text = SCENARIO.format(title=f"Number {number}", rate=100 * (number + 1))
        (there / f"{number}.yaml").write_text(text)
    (there / "broken.yaml").write_text("title: x\ntrain: [\n")
    (there / "unknown.yaml").write_text(
        SCENARIO.format(title="x", rate=1).replace("nitrogen: 100 %", "unobtainium: 100 %")
    )
    (there / "other.yaml").write_text("a: 1\n")
    (tmp_path / "site.yaml").write_text(RULES)
    (tmp_path / "own.py").write_text(PLUGIN.format(counter=str(tmp_path / "deaths")))
    return there


def audited(pool: Any, desk: Desk, name: str, where: str = "lab") -> Audit:
    with opened(Path(name)) as store, Progress(quiet=True) as progress:
        audit = Audit(store, desk, pool, progress)
        audit.run(find([where]))
    return audit


def content(name: str) -> dict[str, Any]:
    """Everything in a store but the times."""
    store = sqlite3.connect(name)
    try:
        tables = {
            table: store.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall()
            for table in ("ruleset", "criterion", "finding", "upset")
        }
        rows = store.execute("SELECT * FROM setup ORDER BY path")
        names = [each[0] for each in rows.description]
        tables["setup"] = [
            {n: v for n, v in zip(names, row, strict=True) if n not in ("reviewed_at", "seconds")}
            for row in rows
        ]
        return tables
    finally:
        store.close()


def test_a_store_is_as_if_it_were_made_here(folder: Path, address: str) -> None:
    """With a site's rules and a plugin file, errors and skipped files; then judged again."""
    recipe = Recipe(("own.py",), ("site.yaml",))
    desk = Desk(recipe)
    audited(Here(desk), desk, "here.sqlite")
    done = audited(Cluster(address, recipe, desk), desk, "there.sqlite")
    assert done.reviewed == 8
    assert content("there.sqlite") == content("here.sqlite")
    told = {row["path"]: row for row in content("there.sqlite")["setup"]}
    assert told["lab/0.yaml"]["verdict"] and "unobtainium" in told["lab/unknown.yaml"]["error"]

    milder = RULES.replace("0.1,", "0.12,")
    Path("site.yaml").write_text(milder)
    desk = Desk(recipe)
    assert audited(Here(desk), desk, "here.sqlite").judged == 5
    assert audited(Cluster(address, recipe, desk), desk, "there.sqlite").judged == 5
    assert content("there.sqlite") == content("here.sqlite")


def test_a_worker_that_differs_gives_no_result(folder: Path, address: str) -> None:
    recipe = Recipe()
    desk = Desk(recipe)
    pool = Cluster(address, recipe, desk)
    pool._kit["id"] = "as if the workers were changed now"
    pool._kit["libraries"] = pool._kit["libraries"] | {"numpy": "0.1"}
    pool._kit["key"] = pool._kit["key"] | {"code": "another"}
    audited(pool, desk, "there.sqlite")
    stored = content("there.sqlite")
    assert {row["state"] for row in stored["setup"]} == {"error"}
    assert all("instead of 0.1" in row["error"] for row in stored["setup"])
    assert "numpy" in stored["setup"][0]["error"] and "tcp://" in stored["setup"][0]["error"]
    assert stored["finding"] == []


def test_where_every_worker_differs_nothing_is_begun(
    folder: Path, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:

    def other(recipe: Recipe, desk: Desk) -> dict[str, Any]:
        kit = kit_of(recipe, desk)
        return kit | {"code": "another", "key": kit["key"] | {"code": "another"}}

    monkeypatch.setattr(module, "kit_of", other)
    with pytest.raises(ClusterError, match="no worker of .* can be used: .*the code of benchgate"):
        Cluster(address, Recipe(), Desk(Recipe()))


def test_other_data_give_no_result(folder: Path, address: str) -> None:
    recipe = Recipe()
    desk = Desk(recipe)
    pool = Cluster(address, recipe, desk)
    pool._data["substances", "nitrogen"] = "substances/nitrogen", "another hash"
    audited(pool, desk, "there.sqlite")
    told = {row["path"]: row for row in content("there.sqlite")["setup"]}
    assert told["lab/0.yaml"]["state"] == "error"
    assert "has other data: substances/nitrogen" in told["lab/0.yaml"]["error"]


def test_what_kills_a_worker_is_tried_at_most_three_times_and_costs_only_itself(
    folder: Path, address: str
) -> None:
    recipe = Recipe(("own.py",))
    desk = Desk(recipe)
    for file in folder.iterdir():
        if file.name != "0.yaml":
            file.unlink()
    (folder.parent / "bad").mkdir()
    Path("bad/deadly.yaml").write_text(SCENARIO.format(title="deadly", rate=1))
    audited(Cluster(address, recipe, desk), desk, "there.sqlite", "bad")
    audited(Cluster(address, recipe, desk), desk, "there.sqlite", "lab")
    assert 1 <= len(Path("deaths").read_text()) <= 3
    told = {row["path"]: row for row in content("there.sqlite")["setup"]}
    assert "the worker that had it died, and so did others" in told["bad/deadly.yaml"]["error"]
    assert told["lab/0.yaml"]["state"] == "reviewed"


def test_the_cluster_is_left_as_it_was(folder: Path, address: str) -> None:
    def deaths(dask_scheduler: Any) -> int:
        return int(dask_scheduler.allowed_failures)

    with distributed.Client(address, set_as_default=False) as client:
        before = client.run_on_scheduler(deaths)
        pool = Cluster(address, Recipe(), Desk(Recipe()))
        assert client.run_on_scheduler(deaths) == 2
        assert pool.width == 4
        pool.close()
        pool.close()
        assert client.run_on_scheduler(deaths) == before


def test_a_scheduler_that_is_lost_ends_the_audit_and_nothing_else(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = Desk(Recipe())
    local = distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=":0"
    )
    pool = Cluster(local.scheduler_address, Recipe(), desk)
    monkeypatch.setattr(module, "answer", _slow)
    try:
        future = pool.submit(Text("a.yaml", "scenario", b"title: x\n"))
        local.close()
        with pytest.raises(AuditError, match="is lost"):
            future.result(timeout=20)
    finally:
        pool.close()
        local.close()


def _slow(*_: object) -> None:
    time.sleep(3)


def test_without_workers_it_does_not_wait_for_ever(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "_LOOK", 0.05)
    desk = Desk(Recipe())
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=":0"
    ) as local:
        pool = Cluster(local.scheduler_address, Recipe(), desk, seconds_alone=0.2)
        local.scale(0)
        for _ in range(100):
            if not local.workers:
                break
            time.sleep(0.05)
        future = pool.submit(Text("a.yaml", "scenario", b"title: x\n"))
        with pytest.raises(AuditError, match="no workers any more"):
            future.result(timeout=20)
        pool.close()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense", "http://127.0.0.1:80"])
def test_no_scheduler(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_CONNECT", 0.5)
    with pytest.raises(ClusterError, match="no Dask scheduler answers at"):
        Cluster(address, Recipe(), Desk(Recipe()))


def test_something_that_is_no_scheduler(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_CONNECT", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        with pytest.raises(ClusterError, match="no Dask scheduler answers at"):
            Cluster(f"tcp://127.0.0.1:{port}", Recipe(), Desk(Recipe()))


def test_a_scheduler_without_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_WORKERS", 0.3)
    with distributed.LocalCluster(
        n_workers=0, processes=False, dashboard_address=":0"
    ) as local, pytest.raises(ClusterError, match="has no workers"):  # fmt: skip
        Cluster(local.scheduler_address, Recipe(), Desk(Recipe()))


def test_waiting_for_a_scheduler_takes_about_ten_seconds_at_most() -> None:
    assert module._CONNECT + module._WORKERS <= 16 and module._CONNECT <= 10


def _kit(*plugins: str) -> dict[str, Any]:
    recipe = Recipe(plugins)
    return kit_of(recipe, Desk(recipe))


def test_a_worker_says_how_it_differs() -> None:
    """Each part of what the caller and the worker must have in common."""
    task = {"measured": False, "task": {"path": "a", "source": "scenario", "content": b"title: x"}}
    all_keys = {"rules": "r", "code": "c", "plugins": "p"}
    for part, change, said in (
        ("code", "another", "the code of benchgate"),
        ("libraries", {"numpy": "9"}, "instead of 9"),
        ("key", all_keys, "checks that did not load, rules, plugins"),
    ):
        told = answer(_kit() | {part: change}, task)
        assert told.keys() == {"refused"} and said in told["refused"], part
    assert answer(_kit(), task)["row"]["state"] == "skipped"  # no section of a scenario


def test_a_plugin_that_a_worker_cannot_load_is_no_result() -> None:
    kit = _kit()
    kit["plugins"] = [("own.py", b"import nowhere_to_be_found\n")]
    kit["rules"] = [("site.yaml", b"criteria: 3\n")]
    task = {"measured": False, "task": {"path": "a", "source": "scenario", "content": b"title: x"}}
    assert "could not load the rules and plugins" in answer(kit, task)["refused"]


def test_files_of_one_name_do_not_meet(tmp_path: Path) -> None:
    kit = {"plugins": [("a.py", b"1"), ("../a.py", b"2")], "rules": [("a.yaml", b"3")]}
    recipe = _unpacked(kit, tmp_path)
    contents = [Path(p).read_bytes() for p in (*recipe.plugins, *recipe.rules)]
    assert contents == [b"1", b"2", b"3"]
    assert all(Path(p).resolve().is_relative_to(tmp_path) for p in recipe.plugins)


def test_patience_with_plugins_travels_and_does_not_stay(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BENCHGATE_PLUGIN_SECONDS", "7")
    kit = _kit("own.py")
    monkeypatch.delenv("BENCHGATE_PLUGIN_SECONDS")
    text = SCENARIO.format(title="x", rate=1).encode()
    task = {"measured": False, "task": {"path": "a", "source": "scenario", "content": text}}
    told = answer(kit, task)
    assert told["row"]["state"] == "reviewed", told
    assert json.loads(told["row"]["plugins"])[0]["name"] == "own"
    assert "BENCHGATE_PLUGIN_SECONDS" not in os.environ
