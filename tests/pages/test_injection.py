"""Every text that a file or a site's rules may hold, hostile at once, on every page there is."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner
from markdown_it import MarkdownIt

from review.cli import group
from tests.html_reader import HOSTILE, Reader
from tests.support import SCENARIOS

ACTIVE = {"script", "iframe", "object", "embed", "form", "base", "img", "a"}


@pytest.fixture
def hostile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A set-up with a condition whose free texts all hold markup, and rules of a site that do."""
    data: dict[str, Any] = yaml.load(
        (SCENARIOS / "copper_oxide_forming_gas.yaml").read_text("utf-8"), yaml.BaseLoader
    )
    for key in ("title", "purpose", "prepared_by", "room"):
        data[key] = f"{key} {HOSTILE}"
    data["look_for"] = [{"sign": HOSTILE, "means": HOSTILE, "do": HOSTILE}]
    data["procedure"][0]["note"] = HOSTILE
    data.setdefault("safeguards", []).append({"kind": "lab coat", "note": HOSTILE})
    (tmp_path / "site.yaml").write_text(yaml.safe_dump({
        "name": HOSTILE, "contacts": [HOSTILE],
        "criteria": [{
            "id": "our.rule", "title": HOSTILE, "action": HOSTILE, "otherwise": "tolerable",
            "require": "facts.operators > 99.0",
            "basis": {"document": HOSTILE, "clause": HOSTILE, "how": "read"},
        }, {"id": "heat.hot_part", "disabled": True, "reason": HOSTILE}],
    }))  # fmt: skip
    file = tmp_path / "lab" / "x.yaml"
    file.parent.mkdir()
    file.write_text(yaml.safe_dump(data, sort_keys=False), "utf-8")
    monkeypatch.chdir(tmp_path)
    return Path("lab/x.yaml")


def written(*args: object) -> str:
    done = CliRunner().invoke(
        group, [*map(str, args), "--rules", "site.yaml", "--out", "out"], prog_name="benchgate"
    )
    assert done.exit_code == 0, done.output
    text = Path("out").read_text("utf-8")
    os.unlink("out")
    return text


def test_on_every_page_it_is_text(hostile: Path, browser: Any, tmp_path: Path) -> None:
    pages = {
        "review": ("check", hostile, "--format", "html"),
        "sheet": ("runsheet", hostile, "--format", "html"),
        "audit": ("audit", "lab", "--jobs", "1", "--format", "html"),
    }
    for name, args in pages.items():
        source = written(*args)
        page = Reader(source)
        assert not page.elements.keys() & ACTIVE, name
        assert not {a for _, a in page.attributes if a.startswith("on")}, name
        assert "<script>alert(1)</script>" in page.text and "{{ 7 * 7 }}" in page.text, name
        file = tmp_path / f"{name}.html"
        file.write_text(source, "utf-8")
        browser.open(file.as_uri(), width=390)  # an alert would raise here
        assert browser.run("return document.images.length + document.scripts.length") == 0
        assert browser.overflow() <= 0, name
    for args in (("check", hostile, "--format", "markdown"), ("runsheet", hostile)):
        shown = Reader(MarkdownIt("commonmark").enable("table").render(written(*args)))
        assert not shown.elements.keys() & ACTIVE, args
    assert json.loads(written("check", hostile, "--format", "sarif"))["version"] == "2.1.0"
