"""What is shown of a record that has just been signed, and how to sign again."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from review.cli import output

if TYPE_CHECKING:
    from review.cli.confirming import Draft
    from review.register.record import Record
    from review.render.page import Page


def again(file: Path, draft: Draft, given: Sequence[str]) -> Iterator[str]:
    """The command that says everything that was given and typed, a line for each part."""
    lines = [shlex.join(["benchgate", "sign", str(file), *given])]
    people = ("preparer", "reviewer") if draft.second == "named" else ("preparer",)
    lines += [f"--{role} {shlex.quote(str(getattr(draft, role)))}" for role in people]
    lines += {"named": [], "later": ["--reviewer later"], "nobody": ["--one-person"]}[draft.second]
    lines += ["--two-people"] if draft.told_apart else []
    for id, (who, reason) in draft.answered.items():
        lines.append(f"--answer {shlex.quote(f'{id}={who}: {reason}')}")
    for id, text in draft.accepted.items():
        lines.append(f"--accept {shlex.quote(f'{id}={text}')}")
    bounds = (("--until", draft.until), ("--runs", draft.runs))
    lines += [f"{name} {value}" for name, value in bounds if value is not None]
    yield from (f"  {line} \\" for line in lines[:-1])
    yield f"  {lines[-1]}"


def read_back(path: Path) -> Record:
    from review.register.record import read_record

    return read_record(path.read_bytes(), path.name)


def say(path: Path, record: Record, file: Path, new: bool, given: Sequence[str]) -> None:
    """Where the record is, what it holds for, and what it cannot show."""
    from review.cautions import DEFERS
    from review.render.page import Page
    from review.render.words import clean

    output.write("\n" + output.rendered(lambda console: _draw(Page(console), path, record, new)))
    # One line, however long, so that it can be copied.
    command = ["benchgate", "verify", str(path), "--scenario", str(file), *given]
    if record.second == "later":
        command = ["benchgate", "countersign", str(path), *given]
    command += ["--one-person"] if record.second == "nobody" else []
    output.write(f"  {clean(shlex.join(command))}")
    output.write("\n" + output.rendered(lambda console: Page(console).text(DEFERS)))


def _draw(page: Page, path: Path, record: Record, new: bool) -> None:
    from review.cli.labels import labelled
    from review.register.entries import Standing
    from review.register.milder import MILDER, milder, plugins
    from review.register.use import signers
    from review.register.wording import UNSIGNED
    from review.render.words import counted, listed

    labelled(page, "Signed off:", record.title, style="bold")
    page.text(record.verdict, label="Verdict when signed:")
    page.text(str(path), label="Record:")
    page.text(record.sha256, label="SHA-256:")
    if new:
        page.text(f"{path.parent}, begun with this record", label="Register:")
    labelled(page, "Signed by:", signers(record, Standing(record.reviewer)))
    for role, key in record.keys.items():
        page.text(key, label=f"Key of the {role}:")
    for each in record.data.get("attached", ()):
        labelled(page, "Attached:", f"{each['name']}, SHA-256 {each['sha256']}")
    page.text(
        f"until {record.valid_until}, for {counted(record.runs, 'run')}, and only while the "
        "set-up is as the scenario says",
        label="Holds:",
    )
    defaults = record.data["defaults"]
    usual = [defaults[name]["value"] for name in ("valid_until", "runs") if name in defaults]
    if usual:
        page.text(f"{listed(usual)} (common practice, no source)", label="Usual, as nobody said:")
    if used := plugins(record.data["tool"]):
        labelled(page, "Plugins that are not built in:", used)
    loosened = milder(record.data["ruleset"])
    if loosened:
        page.blank()
        page.text(f"{MILDER}, so that the review asks for less:")
        for line in loosened:
            page.text(line, indent=4, mark="  -")
    roles = ("preparer", "reviewer") if record.second == "named" else ("preparer",)
    lacking = [role for role in roles if role not in record.keys]
    if lacking:
        page.blank()
        page.text(f"No key of the {listed(lacking, 'or the')} signs it. {UNSIGNED}")
    page.blank()
    if record.second == "later":
        page.text(
            "Nobody may run it before a second person has countersigned, here or on another "
            "machine with a copy of the record and of what beside it ends in .sig:"
        )
    else:
        page.text("Before each run, ask whether it still holds:")
