"""Two people who are never at one keyboard: a sign-off from its first refusal to its withdrawal.

Played through the command line with two key folders of a real `ssh-keygen`, in one register and a
copy of one record that is carried to the second person.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from review.cli import group
from review.register import clock
from review.register.record import canonical, read_record, sealed

SCENARIO = Path(__file__).parents[2] / "scenarios" / "nitrogen_dried.yaml"
COMPARED = "the bench with the file, the file with the review"


def run(*args: object) -> Result:
    return CliRunner().invoke(group, [str(arg) for arg in args], prog_name="benchgate")


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A key in a folder of its own for each of two people and a stranger."""
    made = {}
    for who in ("preparer", "reviewer", "stranger"):
        made[who] = tmp_path_factory.mktemp(who) / "key"
        subprocess.run(
            ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", made[who]], check=True, timeout=60
        )
    return made


@pytest.fixture(scope="module")
def awaiting(keys: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A folder with a record that its preparer has signed, by way of a file of answers."""
    folder = tmp_path_factory.mktemp("bench")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("BENCHGATE_RULES", "")
        shutil.copy(SCENARIO, "a.yaml")
        refused = run("sign", "a.yaml", "--runs", 2)
        assert refused.exit_code == 1, refused.output
        answers = Path("answers.yaml")
        assert run("sign", "a.yaml", "--answers", answers).exit_code == 1
        text = answers.read_text("utf-8")
        text = text.replace('preparer: ""', 'preparer: "teacher"')
        answers.write_text(text.replace('reviewer: ""', 'reviewer: "later"'), "utf-8")
        signed = run("sign", "a.yaml", "--answers", answers, "--preparer-key", keys["preparer"])
        assert signed.exit_code == 0, signed.output
        assert "awaits a second person" in flat(signed.stdout)
        yield folder


@pytest.fixture
def bench(awaiting: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it to stand in; the path of the record."""
    shutil.copytree(awaiting, tmp_path / "bench")
    monkeypatch.chdir(tmp_path / "bench")
    monkeypatch.setenv("BENCHGATE_RULES", "")
    return Path("register/000001.json")


def carried(record: Path, keys: dict[str, Path], who: str = "reviewer", **more: str) -> Path:
    """A countersignature that was made on a copy of the record."""
    copy = Path("copy")
    copy.mkdir(exist_ok=True)
    for file in record.parent.glob(f"{record.name}*"):
        shutil.copy(file, copy)
    name = more.get("name", "second teacher")
    made = run("countersign", copy / record.name, "--reviewer", name, "--compared", COMPARED,
               "--reviewer-key", keys[who])  # fmt: skip
    assert made.exit_code == 0, made.output
    return copy / f"{record.stem}.countersigned.json"


def refused(record: Path, file: Path) -> str:
    before = sorted(p.name for p in record.parent.iterdir())
    done = run("countersign", record, "--take", file)
    assert done.exit_code == 1, done.output
    assert sorted(p.name for p in record.parent.iterdir()) == before
    return flat(done.stderr)


def test_the_whole_story(bench: Path, keys: dict[str, Path], tmp_path: Path) -> None:
    assert "awaits a second person" in flat(run("verify", bench).stdout)
    early = run("runsheet", bench)
    assert early.exit_code == 1 and "countersign" in early.stderr
    assert run("ran", bench, "--by", "teacher").exit_code == 1

    file = carried(bench, keys)
    taken = run("countersign", bench, "--take", file)
    assert taken.exit_code == 0, taken.output
    allowed = tmp_path / "allowed"
    public = {who: keys[who].with_suffix(".pub").read_text().split()[:2] for who in keys}
    allowed.write_text("".join(
        f'"{name}" {" ".join(public[who])}\n'
        for name, who in (("teacher", "preparer"), ("second teacher", "reviewer"))
    ))  # fmt: skip
    holds = run("verify", bench, "--allowed-signers", allowed)
    assert holds.exit_code == 0, holds.output
    assert "reviewer: signed by second teacher, whose key is allowed" in flat(holds.stdout)
    page = run("runsheet", bench)
    assert page.exit_code == 0 and "second teacher (countersigned it)" in page.stdout

    first = run("ran", bench, "--by", "teacher", "--incident", "the hose came off at the outlet")
    assert first.exit_code == 0, first.output
    assert "the hose came off" in run("runsheet", bench).stdout
    Path("run.csv").write_text(
        "time [min],nitrogen [mL/min]\n1,500\n12,900\n13,950\n14,500\n", "utf-8"
    )
    second = run("ran", bench, "--by", "second teacher", "--noted", "all as planned", "--log",
                 "run.csv")  # fmt: skip
    assert second.exit_code == 1, "the readings left the plan"
    assert "nitrogen read 950 mL/min from 0:12:00 to 0:13:00" in flat(second.stdout)
    used = run("ran", bench, "--by", "teacher")
    assert used.exit_code == 1 and "used up" in flat(used.stderr)
    assert run("runsheet", bench).exit_code == 1

    again = run("sign", "a.yaml", "--preparer", "teacher", "--reviewer", "second teacher")
    assert "Signed before: record 1" in flat(again.stdout)
    assert again.exit_code == 1
    asked = Path("answers-2.yaml").read_text("utf-8")
    assert "the hose came off at the outlet" in asked
    assert "nitrogen read 950 mL/min" in asked
    filled = asked.replace('said: ""', 'said: "the clip was replaced by a new one"')
    Path("answers-2.yaml").write_text(filled, "utf-8")
    renewed = run("sign", "a.yaml", "--answers", "answers-2.yaml")
    assert renewed.exit_code == 0, renewed.output
    third = run("sign", "a.yaml", "--preparer", "teacher", "--reviewer", "second teacher")
    assert third.exit_code == 0, "what was answered once is not asked again"

    gone = run("withdraw", renewed_path(renewed), "--reason", "the bench was rebuilt since",
               "--by", "teacher")  # fmt: skip
    assert gone.exit_code == 0, gone.output
    assert run("runsheet", renewed_path(renewed)).exit_code == 1
    whole = run("verify", "register")
    assert whole.exit_code == 0, whole.output
    assert "1 withdrawn" in whole.stdout and "1 used up" in whole.stdout

    # Handed over: somebody else prepares it from now on.
    over = run("sign", "a.yaml", "--preparer", "third teacher", "--reviewer", "second teacher")
    assert over.exit_code == 0 and "Signed before" in flat(over.stdout), over.output
    assert run("runsheet", renewed_path(over)).exit_code == 0
    assert run("verify", "register").exit_code == 0


def renewed_path(signed: Result) -> str:
    found = re.search(r"register/\d{6}\.json", signed.stdout)
    assert found
    return found[0]


def test_a_forged_countersignature_is_refused(bench: Path, keys: dict[str, Path]) -> None:
    file = carried(bench, keys)
    told = json.loads(file.read_text("utf-8"))
    for old, new in (("second teacher", "third teacher"), ("the bench", "the bunch")):
        forged = {**told, "statement": told["statement"].replace(old, new)}
        file.write_bytes(canonical(forged))
        assert "is no signature of" in refused(bench, file)


def test_the_preparer_cannot_countersign(bench: Path, keys: dict[str, Path]) -> None:
    made = run("countersign", bench, "--reviewer", "second teacher", "--compared", COMPARED,
               "--reviewer-key", keys["preparer"])  # fmt: skip
    assert made.exit_code == 1 and "key of the preparer" in flat(made.stderr)
    made = run("countersign", bench, "--reviewer", "TEACHER", "--compared", COMPARED)
    assert made.exit_code == 1 and "same person" in flat(made.stderr)


def test_a_second_countersignature_is_refused(bench: Path, keys: dict[str, Path]) -> None:
    first, name = carried(bench, keys), "another teacher"
    second = carried(bench, keys, "stranger", name=name)
    assert first == second
    other = Path("other.json")
    shutil.copy(second, other)
    assert run("countersign", bench, "--take", carried(bench, keys)).exit_code == 0
    assert "has signed as the second person already" in refused(bench, other)


def test_a_late_countersignature_is_refused(
    bench: Path, keys: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = carried(bench, keys)
    last = read_record(bench.read_bytes(), "r").signed_at
    monkeypatch.setattr(clock, "now", lambda: last.replace(year=last.year + 1))
    said = refused(bench, file)
    assert "expired" in said or "too late" in said


def test_one_that_was_made_after_the_withdrawal_is_refused(
    bench: Path, keys: dict[str, Path]
) -> None:
    file = carried(bench, keys)
    assert run("withdraw", bench, "--reason", "no longer as it was", "--by", "x y").exit_code == 0
    assert "withdrew it" in refused(bench, file)


def rewritten(register: Path, names: list[int]) -> None:
    """The register with its files in another order, chained and counted as if it were so."""
    bodies = {n: json.loads((register / f"{n:06}.json").read_bytes()) for n in names}
    previous = ""
    for number, n in enumerate(names, 1):
        data = sealed(bodies[n], number, previous)
        (register / f"{number:06}.json").write_bytes(data)
        previous = hashlib.sha256(data).hexdigest()
    head = json.loads((register / "head.json").read_bytes())
    (register / "head.json").write_bytes(
        canonical({**head, "count": len(names), "sha256": previous})
    )


def test_entries_in_another_order_show(bench: Path, keys: dict[str, Path]) -> None:
    """Even where the whole chain is written anew: the record's own hash is another then."""
    assert run("countersign", bench, "--take", carried(bench, keys)).exit_code == 0
    assert run("ran", bench, "--by", "teacher").exit_code == 0
    rewritten(bench.parent, [2, 1, 3])
    found = run("verify", "register")
    assert found.exit_code == 1
    assert "not all of it holds" in found.stdout


@pytest.mark.parametrize("how", ["removed", "renamed", "added again", "head of before"])
def test_a_withdrawal_cannot_be_hidden(bench: Path, keys: dict[str, Path], how: str) -> None:
    assert run("countersign", bench, "--take", carried(bench, keys)).exit_code == 0
    head = Path("register/head.json").read_bytes()
    gone = run("withdraw", bench, "--reason", "the bench was rebuilt", "--by", "second teacher")
    assert gone.exit_code == 0, gone.output
    note = Path("register/000003.json")
    if how == "removed":
        note.unlink()
    elif how == "renamed":
        note.rename("register/000003.json.old")
    elif how == "added again":
        shutil.copy(note, "register/000004.json")
    else:
        Path("register/head.json").write_bytes(head)
    for what in (bench, Path("register")):
        found = run("verify", what)
        assert found.exit_code == 1, found.output
        assert "not in order" in flat(found.stdout)
    assert run("runsheet", bench).exit_code == 1
    assert run("ran", bench, "--by", "teacher").exit_code == 2


def test_a_withdrawal_is_not_undone_by_another_or_by_a_copy(bench: Path) -> None:
    done = ("withdraw", bench, "--reason", "the bench was rebuilt", "--by", "teacher")
    assert run(*done).exit_code == 0
    assert run(*done).exit_code == 1
    Path("apart").mkdir()
    for file in bench.parent.glob("000001.json*"):
        shutil.copy(file, "apart")
    assert run("runsheet", "apart/000001.json").exit_code == 1


def test_one_person_is_said_and_has_to_be_asked_for(bench: Path) -> None:
    signed = run("sign", "a.yaml", "--preparer", "teacher", "--one-person", "--register", "alone")
    assert signed.exit_code == 0, signed.output
    assert "ONE PERSON" in signed.stdout
    for verb in ("verify", "runsheet"):
        assert run(verb, "alone/000001.json").exit_code == 1
        asked = run(verb, "alone/000001.json", "--one-person")
        assert asked.exit_code == 0, asked.output
        assert "ONE PERSON" in asked.stdout


def test_names_that_may_be_one_person_are_asked_about(bench: Path) -> None:
    names = ("--preparer", "T. Example", "--reviewer", "Theo Example", "--register", "names")
    said = run("sign", "a.yaml", *names)
    assert said.exit_code == 1 and "--two-people" in said.stderr
    assert run("sign", "a.yaml", *names, "--two-people").exit_code == 0


def test_reviewers_are_those_whose_keys_the_site_lists(bench: Path, keys: dict[str, Path]) -> None:
    line = subprocess.run(
        ["ssh-keygen", "-l", "-f", keys["reviewer"]], capture_output=True, text=True, check=True
    ).stdout.split()[1]
    Path("site.yaml").write_text(f"name: our bench\nreviewers: [second teacher {line}]\n", "utf-8")
    ours = ("--rules", "site.yaml")
    done = ("countersign", bench, "--reviewer", "second teacher", "--compared", COMPARED, *ours)
    other = run(*done, "--reviewer-key", keys["stranger"])
    assert other.exit_code == 1 and "list reviewers by their keys" in flat(other.stderr)
    assert run(*done).exit_code == 1
    assert run(*done, "--reviewer-key", keys["reviewer"]).exit_code == 0
    assert run("verify", bench, *ours).exit_code == 0


def test_what_is_attached_is_known_again(bench: Path) -> None:
    Path("photo.txt").write_text("the frame from the left", "utf-8")
    names = ("--preparer", "teacher", "--reviewer", "second teacher")
    signed = run("sign", "a.yaml", *names, "--register", "b", "--attach", "photo.txt")
    assert signed.exit_code == 0, signed.output
    assert run("verify", "b/000001.json", "--attached", "photo.txt").exit_code == 0
    Path("photo.txt").write_text("another frame", "utf-8")
    assert run("verify", "b/000001.json", "--attached", "photo.txt").exit_code == 1
