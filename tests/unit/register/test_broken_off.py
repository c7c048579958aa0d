"""A sign-off that is broken off, at whatever moment and by whatever, leaves a register in order.

Where code is to be broken off at its n-th call to the system, the calls themselves are wrapped:
nothing in the program knows of it.
"""

from __future__ import annotations

import errno
import os
import shutil
import signal
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from review.register.chain import Register
from review.register.entries import entry as note
from review.register.entries import standing
from review.register.record import RecordError
from review.register.signatures import fingerprint

Body = Callable[..., dict[str, Any]]
#: Every call by which a sign-off changes the disk, and those beside them.
CALLS = ("open", "write", "fsync", "close", "replace", "unlink", "mkdir")


@contextmanager
def _wrapped(
    before: Callable[[str, tuple[Any, ...]], None], names: tuple[str, ...] = CALLS
) -> Iterator[None]:
    """Call `before` ahead of each call to the system."""
    kept = {name: getattr(os, name) for name in names}

    def wrap(name: str) -> Callable[..., Any]:
        def call(*arguments: Any, **options: Any) -> Any:
            before(name, arguments)
            return kept[name](*arguments, **options)

        return call

    for name in names:
        setattr(os, name, wrap(name))
    try:
        yield
    finally:
        for name, function in kept.items():
            setattr(os, name, function)


class _Countdown:
    """Does something at the n-th call, or at every call from there on."""

    def __init__(self, number: int, act: Callable[[str, tuple[Any, ...]], None], on: bool = False):
        self.left, self.act, self.on = number, act, on

    def __call__(self, name: str, arguments: tuple[Any, ...]) -> None:
        self.left -= 1
        if self.left == 0 or (self.on and self.left < 0):
            self.act(name, arguments)


def _die(name: str, arguments: tuple[Any, ...]) -> None:
    """kill -9; of what was to be written half gets out."""
    if name == "write":
        handle, data = arguments
        with open(handle, "wb", buffering=0, closefd=False) as stream:
            stream.write(bytes(data)[: len(data) // 2])
    os.kill(os.getpid(), signal.SIGKILL)


def _in_a_child(
    work: Callable[[], object],
    before: Callable[[str, tuple[Any, ...]], None],
    calls: tuple[str, ...] = CALLS,
) -> int:
    """The signal that a forked process died of while it worked; 0 where it finished."""
    child = os.fork()
    if child == 0:  # nothing of the test's own may run in the child
        try:
            with _wrapped(before, calls):
                work()
            os._exit(0)
        finally:
            os._exit(70)
    status = os.waitpid(child, 0)[1]
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
    return os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0


def _contents(register: Register) -> list[str]:
    return [record.scenario_text for record in register.records()]


@pytest.fixture
def sign_off(body: Body, keys: dict[str, Path]) -> Callable[[Register, str], object]:
    """`sign_off(register, text)` with the keys of both people."""
    signers = {role: keys[role] for role in ("preparer", "reviewer")}
    named = {role: fingerprint(key) for role, key in signers.items()}
    return lambda register, text: register.add(body(text) | {"keys": named}, signers)


def _killed(
    folder: Path,
    held: int,
    sign: Callable[[Register, str], object],
    calls: tuple[str, ...] = CALLS,
) -> Iterator[tuple[Register, list[str]]]:
    """A register of `held` records whose next sign-off was killed at its n-th call, for every n.

    With it what it holds. The last was not killed.
    """
    start = folder / "start"
    start.mkdir()
    for number in range(held):
        sign(Register(start / "register"), f"title: {number}\n")
    for number in range(1, 500):
        copy = folder / f"{number}"
        shutil.copytree(start, copy)
        register = Register(copy / "register")
        died = _in_a_child(partial(sign, register, "title: new\n"), _Countdown(number, _die), calls)
        there = _contents(register)
        old = [f"title: {n}\n" for n in range(held)]
        assert there in (old, [*old, "title: new\n"])
        yield register, there
        if not died:
            assert there[held:] == ["title: new\n"]
            return
    pytest.fail("it never finished")


def _contents(register: Register) -> list[str]:
    """What a register that is in order holds; one that is not there yet holds nothing."""
    if not register.folder.exists():
        return []
    assert register.problems() == ()
    return [record.scenario_text for record in register.records()]


def _goes_on(register: Register, there: list[str], sign: Callable[[Register, str], object]) -> None:
    """The next sign-off works, chains, and leaves nothing lying about."""
    sign(register, "title: next\n")
    assert _contents(register) == [*there, "title: next\n"]
    assert register.notes() == ()
    names = os.listdir(register.folder)
    assert not [name for name in names if name.endswith(".unplaced")]


@pytest.mark.parametrize("held", [0, 1, 2])
def test_killed_at_any_call(tmp_path: Path, body: Body, held: int) -> None:
    def sign(register: Register, text: str) -> object:
        return register.add(body(text))

    met = []
    for register, there in _killed(tmp_path, held, sign):
        announced = register.folder.exists() and bool(register.notes())
        met.append((len(there) - held, announced))
        _goes_on(register, there, sign)
    # From nothing to announced, there, and counted; each of them was met, in this order.
    assert list(dict.fromkeys(met)) == [(0, False), (0, True), (1, True), (1, False)]
    assert len(met) > 20


def _withdraw(register: Register) -> Path:
    [record] = register.records()
    told = {"by": "teacher", "reason": "it was rebuilt since"}
    return register.add(note("withdrawal", record, record.signed_at, **told))


def test_a_withdrawal_that_was_killed_at_any_call_is_there_or_is_not(
    tmp_path: Path, body: Body
) -> None:
    """And where it is not, it can be entered as if nothing had happened."""
    start = Register(tmp_path / "start")
    start.add(body("title: a\n"))
    seen = set()
    for number in range(1, 500):
        register = Register(shutil.copytree(start.folder, tmp_path / f"{number}"))
        died = bool(_in_a_child(partial(_withdraw, register), _Countdown(number, _die), CALLS))
        assert register.problems() == ()
        [record] = register.records()
        gone = standing(record, register.entries()).withdrawn is not None
        seen.add((died, gone))
        if not gone:
            assert died
            _withdraw(register)
        assert register.problems() == ()
        assert standing(record, register.entries()).withdrawn is not None
        if not died:
            assert seen == {(True, False), (True, True), (False, True)}
            return
    pytest.fail("it never finished")


def test_killed_at_any_call_while_it_clears_up_after_one_that_was_killed(
    tmp_path: Path, body: Body
) -> None:
    def sign(register: Register, text: str) -> object:
        return register.add(body(text))

    changing = ("write", "fsync", "replace", "unlink")
    seen: set[tuple[object, ...]] = set()
    for register, there in _killed(tmp_path, 1, sign):
        names = os.listdir(register.folder)
        state = *sorted(names), (register.folder / "head.json").read_bytes()
        if state in seen or not register.notes():
            continue
        seen.add(state)
        for number in range(1, 16):
            copy = tmp_path / "again"
            shutil.copytree(register.folder, copy)
            again = Register(copy)
            work = partial(sign, again, "title: 2\n")
            if not _in_a_child(work, _Countdown(number, _die), changing):
                break
            now = _contents(again)
            assert now in (there, [*there, "title: 2\n"])
            _goes_on(again, now, sign)
            shutil.rmtree(copy)
        shutil.rmtree(copy, ignore_errors=True)
    assert len(seen) >= 3


def test_killed_between_signatures_and_record(
    tmp_path: Path, body: Body, sign_off: Callable[[Register, str], object]
) -> None:
    """A signature without its record does not count, and is not taken for that of the next."""
    for register, there in _killed(tmp_path, 0, sign_off, ("replace",)):
        _goes_on(register, there, lambda r, text: r.add(body(text)))
        signed = sum(name.endswith(".sig") for name in os.listdir(register.folder))
        assert signed == 2 * len(there)


@pytest.mark.parametrize(("code", "for_good"), [(errno.ENOSPC, False), (errno.EIO, True)])
def test_a_disk_that_fails_at_any_call(
    tmp_path: Path, body: Body, code: int, for_good: bool
) -> None:
    """Either the record is in the register, or it says so and nothing has changed."""

    def fail(name: str, arguments: tuple[Any, ...]) -> None:
        if name != "close":  # what is open can be closed
            raise OSError(code, os.strerror(code))

    kept = [f"title: {n}\n" for n in range(2)]
    refused = unsure = 0
    for number in range(1, 500):
        register = Register(tmp_path / f"{number}")
        for text in kept:
            register.add(body(text))
        countdown = _Countdown(number, fail, for_good)
        try:
            with _wrapped(countdown):
                register.add(body("title: new\n"))
            there = [*kept, "title: new\n"]
        except RecordError as error:
            assert os.strerror(code) in str(error)
            there, refused = kept, refused + 1
            if "look whether 000003.json is there" in str(error):
                unsure += 1
                there = [*kept, "title: new\n"][: 2 + register.path(3).exists()]
            else:
                assert "nothing was signed" in str(error)
                assert for_good or register.notes() == ()
        assert _contents(register) == there
        _goes_on(register, there, lambda r, text: r.add(body(text)))
        if countdown.left > 0:
            break
    else:
        pytest.fail("it never finished")
    assert refused > 10
    assert (unsure > 0) == for_good  # a disk that works again lets everything be taken back


def test_a_reader_is_told_in_words_that_a_disk_fails(tmp_path: Path, body: Body) -> None:
    register = Register(tmp_path)
    register.add(body())

    def fail(name: str, arguments: tuple[Any, ...]) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with _wrapped(fail, ("open",)):
        assert "Input/output error" in "\n".join(register.problems())
        with pytest.raises(RecordError, match="Input/output error"):
            register.records()


@pytest.mark.parametrize("with_keys", [False, True])
def test_a_power_cut_at_any_moment(
    tmp_path: Path, body: Body, sign_off: Callable[[Register, str], object], with_keys: bool
) -> None:
    """What is not synced may be lost, or be there by name and hold nothing, in any order."""

    def plain(register: Register, text: str) -> object:
        return register.add(body(text))

    register = Register(tmp_path / "register")
    plain(register, "title: 0\n")
    disk = _Disk(register.folder)
    with _wrapped(disk.before, ("open", "write", "fsync", "close", "replace", "unlink")):
        (sign_off if with_keys else plain)(register, "title: 1\n")
    disk.before("end", ())
    assert len(disk.leftovers) > 10
    for number, left in enumerate(disk.leftovers):
        after = Register(tmp_path / f"{number}")
        after.folder.mkdir()
        for name, content in left.items():
            (after.folder / name).write_bytes(content)
        there = _contents(after)
        assert there in (["title: 0\n"], ["title: 0\n", "title: 1\n"]), left.keys()
        plain(after, "title: next\n")
        assert _contents(after) == [*there, "title: next\n"]
    assert there == ["title: 0\n", "title: 1\n"]  # once `add` is done, nothing can take it away


class _Disk:
    """What a power cut before any of the calls may leave of a folder: `leftovers`, each once.

    Contents are on the disk once the file was synced, names once the folder was. Of the names that
    changed since, all may be lost or none, a single one may have got there, or all but one.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.leftovers: list[dict[str, bytes]] = []
        self.synced = {e.inode(): Path(e.path).read_bytes() for e in os.scandir(folder)}
        self.settled = self._names()
        self.act: Callable[[], None] = lambda: None

    def before(self, name: str, arguments: tuple[Any, ...]) -> None:
        self.act()
        self.act = lambda: None
        self._note()
        if name == "fsync":
            self.act = partial(self._sync, os.fstat(arguments[0]))
        elif name == "open" and arguments[1] & os.O_TRUNC and Path(arguments[0]).exists():
            self.synced.pop(Path(arguments[0]).stat().st_ino, None)

    def _sync(self, status: os.stat_result) -> None:
        if stat.S_ISDIR(status.st_mode):
            self.settled = self._names()
            return
        for entry in os.scandir(self.folder):
            if entry.inode() == status.st_ino:
                self.synced[status.st_ino] = Path(entry.path).read_bytes()

    def _note(self) -> None:
        old, now = self.settled, self._names()
        changed = {name for name in old.keys() | now.keys() if old.get(name) != now.get(name)}
        for from_now in (
            set(),
            changed,
            *({c} for c in changed),
            *(changed - {c} for c in changed),
        ):
            names = {n: i for n, i in old.items() if n not in from_now}
            names |= {n: i for n, i in now.items() if n in from_now}
            left = {name: self.synced.get(inode, b"") for name, inode in names.items()}
            if left not in self.leftovers:
                self.leftovers.append(left)

    def _names(self) -> dict[str, int]:
        return {e.name: e.inode() for e in os.scandir(self.folder) if e.name != ".lock"}
