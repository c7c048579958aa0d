"""Writes what lies frozen beside it; run once, in a checkout of the commit that README.md names.

    cd CHECKOUT && .venv/bin/python .../tests/frozen/make.py

Everything comes from that checkout: the code, the demos and the generator of set-ups. Nothing here
is run by a test, and running it again with newer code would freeze that code's answers instead.
"""

from __future__ import annotations

import hashlib
import json
import lzma
import os
import shlex
import shutil
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
CHECKOUT = Path.cwd()
sys.path.insert(0, str(CHECKOUT / "tests" / "generated"))

from click.testing import CliRunner, Result  # noqa: E402
from generator import scenario  # type: ignore[import-not-found]  # noqa: E402

from review import Engine, load  # noqa: E402
from review.cli import group  # noqa: E402
from review.register import clock  # noqa: E402
from review.register.chain import Register  # noqa: E402
from review.register.questions import Signing, questions  # noqa: E402
from review.register.record import compose  # noqa: E402

NOW = datetime(2031, 5, 6, 12, 0, tzinfo=UTC)
#: Start numbers: the first 60 but the four slowest, and later ones that are not refused, so that a
#: verdict can become worse as well as better.
DRAWN = (*(n for n in range(1, 63) if n not in (6, 35, 48, 53)), 118, 182)
FINDING = ("criterion", "kind", "at", "of", "grade", "status", "case", "trial", "step", "value",
           "unit", "limit")  # fmt: skip
MEASURE = ("kind", "at", "of", "plan", "worst")
NAMES = ("--preparer", "teacher", "--reviewer", "second teacher")


def run(*args: object) -> Result:
    done = CliRunner().invoke(group, [str(arg) for arg in args], prog_name="benchgate")
    assert done.exit_code in (0, 1), (args, done.output)
    return done


def sign(name: str, register: str, *options: object) -> None:
    """Sign scenarios/NAME.yaml with all that a refusal says is missing."""
    command = ("sign", f"scenarios/{name}.yaml", "--register", register, *NAMES, *options)
    first, said = run(*command), []
    for line in first.stderr.splitlines():
        line = line.strip().removesuffix("\\")
        if line.startswith(("--accept", "--answer")):
            line = line.replace("=...: ...", "=teacher: seen on the bench many times")
            said += shlex.split(line.replace("=...", "=seen and done"))
    done = run(*command, *said) if first.exit_code else first
    assert done.exit_code == 0, done.output


def registers() -> None:
    for name in ("nitrogen_dried", "copper_oxide_forming_gas", "water_warmed_in_a_bath",
                 "carbon_dioxide_methanated_over_nickel"):  # fmt: skip
        sign(name, "built_in")
    sign("nitrogen_dried", "two_rulesets", "--rules", "rules/short_bench.yaml", "--runs", 5)
    sign("bare_frame", "two_rulesets", "--rules", "rules/long_bench.yaml")
    keys()
    refused_word()


def keys() -> None:
    """A register signed with keys of a real ssh-keygen; the private halves are not kept."""
    options: list[object] = []
    allowed = ""
    for role, who in (("preparer", "teacher"), ("reviewer", "second teacher")):
        make = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", role, "-f", role]
        subprocess.run(make, check=True, stdin=subprocess.DEVNULL)
        options += [f"--{role}-key", role]
        kind, public = Path(f"{role}.pub").read_text().split()[:2]
        allowed += f'"{who}" namespaces="benchgate-record" {kind} {public}\n'
    sign("nitrogen_dried", "with_keys", *options)
    sign("hydrogen_chloride_absorbed", "with_keys", *options)
    Path("allowed_signers").write_text(allowed)


def refused_word() -> None:
    """A record whose scenario says a word that no benchgate knows, as if one had known it then."""
    file = Path("scenarios/water_warmed_in_a_bath.yaml")
    engine, scenario = Engine(), load(file)
    review = engine.review(scenario)
    asked = questions(review)
    signing = Signing("teacher", "second teacher", datetime(2031, 6, 5).date(), 1,
                      {q.id: "seen" for q in asked}, {})  # fmt: skip
    body: dict[str, Any] = json.loads(
        json.dumps(compose(review, scenario, engine.ruleset, signing, NOW, {}))
    )
    text = body["scenario"]["text"].replace("kind: vessel", "kind: steam kettle")
    assert "steam kettle" in text
    body["scenario"]["text"] = text
    body["scenario"]["sha256"] = hashlib.sha256(text.encode()).hexdigest()
    body["review"]["scenario"]["sha256"] = body["scenario"]["sha256"]
    Register(Path("refused_word")).add(body)


def store() -> None:
    run("audit", "scenarios", "--jobs", 1, "--quiet", "--store", "audit.sqlite")
    with sqlite3.connect("audit.sqlite") as database:
        database.execute("vacuum")
    Path("audit.sqlite.xz").write_bytes(lzma.compress(Path("audit.sqlite").read_bytes()))


def answers() -> None:
    demos = sorted(Path("scenarios").glob("*.yaml"))
    texts = {path.stem: path.read_text("utf-8") for path in demos}
    texts |= {f"drawn {number}": scenario(number) for number in DRAWN}
    out = {}
    for name, text in texts.items():
        Path("one.yaml").write_text(text, "utf-8")
        told = json.loads(run("check", "one.yaml", "--format", "json").stdout)
        out[name] = {
            "text": text,
            "verdict": told["verdict"],
            "layers": told["ruleset"]["layers"],
            "findings": [[each[key] for key in FINDING] for each in told["findings"]],
            "measures": [[each[key] for key in MEASURE] for each in told["measures"]],
        }
    plain = json.dumps({"finding": FINDING, "measure": MEASURE, "set_ups": out}, indent=0)
    Path("answers.json.xz").write_bytes(lzma.compress(plain.encode(), preset=9))


def main() -> None:
    clock.now = lambda: NOW
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        shutil.copytree(CHECKOUT / "scenarios", "scenarios", ignore=lambda _, names: [
            name for name in names if not name.endswith(".yaml")])  # fmt: skip
        shutil.copytree(HERE / "rules", "rules")
        registers()
        store()
        answers()
        with tarfile.open("registers.tar.xz", "w:xz") as packed:
            for name in ("built_in", "two_rulesets", "with_keys", "refused_word"):
                for path in sorted(Path(name).glob("[!.]*")):
                    packed.add(path)
            packed.add("allowed_signers", "with_keys.allowed_signers")
        for name in ("registers.tar.xz", "audit.sqlite.xz", "answers.json.xz"):
            shutil.copy(name, HERE / name)
        os.chdir(CHECKOUT)


main()
