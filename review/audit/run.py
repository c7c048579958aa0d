"""The audit itself: every file found becomes a row, by as little work as will do.

A row is as it would be if reviewed now when the file, the rules, the code and every data file
looked up for it are what they were. Where only criteria have changed, its stored measures are
judged again; else the file is reviewed anew. Only this process writes to the store.
"""

from __future__ import annotations

import hashlib
import json
from concurrent.futures import Future
from functools import cached_property
from queue import SimpleQueue
from typing import Any, Literal

from review.audit.files import Finds, Found, Unreadable, content, is_head, is_json_scenario
from review.audit.processes import Pool
from review.audit.progress import Progress
from review.audit.store import Judged, Known, Row, Store
from review.audit.work import AuditError, Desk, Measured, Task, Text, in_words, looked_up

__all__ = ["Audit", "AuditError", "refused"]

PASSED = ("may proceed", "may proceed with conditions")
_DIED = "the process that reviewed it died, twice; perhaps it needs more memory than there is"


class Audit:
    """One pass over the files found. `others` counts files that turned out to be no concern."""

    def __init__(self, store: Store, desk: Desk, pool: Pool, progress: Progress) -> None:
        self._store, self._desk, self._pool, self._progress = store, desk, pool, progress
        self._running: dict[Future[Row | Judged], Task] = {}
        #: What an interruption may break into at any point, as it may not into waiting for futures.
        self._done: SimpleQueue[Future[Row | Judged]] = SimpleQueue()
        self._data: dict[tuple[str, str], tuple[str, str]] = {}
        self._same_limits: dict[str, bool] = {}
        self.others = self.reviewed = self.judged = self.unchanged = self.unread = self.gone = 0

    def run(self, finds: Finds) -> None:
        """Bring the rows of all files found up to date, and drop those of files that are gone.

        An interruption ends the workers, keeps what is done, and goes on as KeyboardInterrupt.
        Raises `AuditError`, also where there is neither a scenario nor a record.
        """
        self.others = finds.others
        self._store.put_ruleset(self._desk.key.rules, self._desk.ruleset_text, self._desk.criteria)
        self._progress.begin(len(finds.files))
        try:
            for found in finds.files:
                task = self._task(found)
                if task is not None:
                    self._start(task)
            while self._running:
                self._collect()
        except KeyboardInterrupt:
            self._keep_what_is_done()
            raise
        finally:
            self._pool.close()
        if not any(state != "skipped" for state, _ in self._store.tally()):
            # Perhaps a folder is not mounted now; so nothing is dropped.
            raise AuditError(f"there is no scenario and no record in {', '.join(finds.named)}")
        self.gone = self._store.forget_gone(finds.named, finds.unread)

    def summary(self) -> str:
        """What this call did, in a line."""
        told = (
            (self.reviewed, "reviewed"),
            (self.judged, "judged again by other rules"),
            (self.unchanged, "not changed"),
            (self.unread, "not to be read"),
            (self.gone, "no longer there"),
            (self.others, "of other kinds passed over"),
        )
        return f"Files: {', '.join(f'{n} {what}' for n, what in told if n)}."

    # What is to be done with a file

    def _task(self, found: Found) -> Task | None:
        """The work a file needs; None where there is none."""
        path = found.shown
        source: Literal["scenario", "record"]
        source = "record" if found.source == "record" else "scenario"
        try:
            data = content(found)
        except Unreadable as error:
            self._keep(self._desk.unreadable(path, found.source, str(error)))
            return None
        if data is None:
            self.others += not is_head(found)
            self._progress.step(refused=False)
            return None
        if source == "record" and is_json_scenario(data):
            source = "scenario"
        self._store.see(path)
        known = self._store.known(path)
        if known is not None and _stays(known, path) and self._same_inputs(known, data):
            if known.rules == self._desk.key.rules:
                self.unchanged += 1
                self._progress.step(refused=refused(known))
                return None
            if known.has_measures and self._may_judge_again(known.rules):
                return Measured(path, source, data, *self._store.measured(path))
        return Text(path, source, data)

    def _same_inputs(self, known: Known, data: bytes) -> bool:
        """Whether all but the rules is as it was when the row was written."""
        key = self._desk.key
        return (
            known.file_sha256 == hashlib.sha256(data).hexdigest()
            and (known.code, known.plugins) == (key.code, key.plugins)
            and all(self._same_data(each) for each in _listed(known.data))
        )

    def _same_data(self, entry: Any) -> bool:
        if not isinstance(entry, dict) or not {"kind", "name", "file", "sha256"} <= entry.keys():
            return False
        asked = entry["kind"], entry["name"]
        if asked not in self._data:
            found = looked_up(self._desk.engine.reference, *asked)
            self._data[asked] = found.file, found.sha256
        return self._data[asked] == (entry["file"], entry["sha256"])

    def _may_judge_again(self, rules: str) -> bool:
        """Whether measures computed under other rules are what the rules of now would compute.

        Checks read the limits of a ruleset, and nothing else of it.
        """
        if self._desk.must_review:
            return False
        if rules not in self._same_limits:
            then = json.loads(self._store.ruleset(rules) or "null")
            self._same_limits[rules] = then is not None and _limits(then) == self._limits_now
        return self._same_limits[rules]

    @cached_property
    def _limits_now(self) -> dict[str, Any]:
        return _limits(json.loads(self._desk.ruleset_text))

    # Work under way

    def _start(self, task: Task) -> None:
        while len(self._running) >= self._pool.width:
            self._collect()
        future = self._pool.submit(task)
        self._running[future] = task
        future.add_done_callback(self._done.put)

    def _collect(self) -> None:
        """Wait until something is done, and store it."""
        suspect = self._suspect(self._done.get())
        if suspect:
            self._again_alone([suspect])

    def _suspect(self, future: Future[Row | Judged]) -> Task | None:
        """The task of a future whose worker died; else None, and its result is stored."""
        task = self._running.pop(future)
        try:
            result = future.result()
        except self._pool.died:
            return task
        self._keep(result)
        return None

    def _again_alone(self, suspects: list[Task]) -> None:
        """Work on tasks whose workers died once more, with all memory to each."""
        while self._running:
            suspect = self._suspect(self._done.get())
            suspects += [suspect] if suspect else []
        for task in suspects:
            try:
                self._keep(self._pool.submit(task).result())
            except self._pool.died:
                self._keep(self._desk.unreadable(task.path, task.source, _DIED))

    def _keep(self, result: Row | Judged) -> None:
        key = self._desk.key
        if isinstance(result, Judged):
            if result.rules != key.rules:
                raise AuditError(_other_worker("rules"))
            self._store.put_judged(result)
            self.judged += 1
        else:
            if (result.rules, result.code, result.plugins) != (key.rules, key.code, key.plugins):
                raise AuditError(_other_worker("rules, plugins or code"))
            self._store.see(result.path)
            try:
                self._store.put(result)
            except UnicodeEncodeError as error:  # text of a plugin that no database can hold
                result = self._desk.unreadable(result.path, result.source, in_words(error))
                self._store.put(result)
            self.reviewed += result.file_sha256 is not None
            self.unread += result.file_sha256 is None
        self._progress.step(refused=refused(result))

    def _keep_what_is_done(self) -> None:
        for future in [f for f in self._running if f.done() and not f.exception()]:
            self._keep(future.result())


def _listed(data: str) -> list[Any]:
    """The entries of a row's `data`; one that nothing is like where they are damaged."""
    try:
        told = json.loads(data)
    except ValueError:
        return [None]
    return told if isinstance(told, list) else [None]


def _stays(known: Known, path: str) -> bool:
    """Whether the same inputs would give the same row.

    What went wrong otherwise than by the words of the file, which begin with its path, may go
    right the next time: a check that took too long, memory that was short, a folder not mounted.
    """
    if known.state == "error":
        return (known.error or "").startswith(path)
    return known.state == "skipped" or bool(known.has_measures and known.has_facts)


def refused(result: Row | Judged | Known) -> bool:
    """Whether a row counts against the audit: refused, not to be judged, or not to be read."""
    skipped = not isinstance(result, Judged) and result.state == "skipped"
    return not skipped and result.verdict not in PASSED


def _limits(ruleset: dict[str, Any]) -> dict[str, Any]:
    return {name: limit["value"] for name, limit in ruleset["limits"].items()}


def _other_worker(what: str) -> str:
    return f"the {what} changed while the audit ran, or are others where the work is done"
