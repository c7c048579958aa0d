"""The desk as a person meets it: served to this machine alone, following file and sliders."""

from __future__ import annotations

import http.client
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.support import SCENARIOS

WAIT = 90.0


class Desk:
    """A running `benchgate desk` and what it printed."""

    def __init__(self, file: Path, *paths: str) -> None:
        self.file = file
        self.log = file.with_suffix(".log")
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-c", "from review.cli import main; main()", "desk", file, *paths],
                stdout=subprocess.PIPE, stderr=log, text=True,
            )  # fmt: skip
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        self.token = urlsplit(self.address).path.strip("/")

    def ask(self, path: str, method: str = "GET", **headers: str) -> tuple[int, Any, str]:
        """Status, headers and body of one request; `path` is added to the host's address."""
        connection = http.client.HTTPConnection(urlsplit(self.address).netloc, timeout=WAIT)
        try:
            named = {name.replace("_", "-"): value for name, value in headers.items()}
            connection.request(method, path, headers=named)
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read().decode()
        finally:
            connection.close()

    def state(self) -> dict[str, Any]:
        return json.loads(self.ask(f"/{self.token}/state")[2])  # type: ignore[no-any-return]

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(WAIT)


def until(what: Callable[[], Any]) -> Any:
    """What it says once it is true."""
    end = time.monotonic() + WAIT
    while time.monotonic() < end:
        try:
            if found := what():
                return found
        except Exception:
            if time.monotonic() > end - 1:
                raise
        time.sleep(0.2)
    raise AssertionError("it never came true")


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    file = tmp_path / "nitrogen_dried.yaml"
    file.write_text((SCENARIOS / file.name).read_text("utf-8"))
    running = Desk(file)
    try:
        yield running
    finally:
        running.stop()


def test_it_answers_only_this_host_with_the_token_and_writes_nothing(desk: Desk) -> None:
    host = urlsplit(desk.address)
    assert host.hostname == "127.0.0.1" and len(desk.token) >= 32
    before = desk.file.read_bytes(), os.listdir(desk.file.parent)
    page = f"/{desk.token}/"
    status, headers, body = desk.ask(page)
    assert status == 200 and "<html" in body
    assert headers["Referrer-Policy"] == "no-referrer" and headers["Cache-Control"] == "no-store"
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert desk.ask(page, Host=f"localhost:{host.port}")[0] == 200
    for refused, status in (
        ({"Host": "bench.example"}, 421), ({"Host": f"bench.example:{host.port}"}, 421),
        ({"Origin": "http://bench.example"}, 403), ({"Origin": "null"}, 403),
        ({"Sec_Fetch_Site": "cross-site"}, 403), ({"Sec_Fetch_Site": "same-site"}, 403),
    ):  # fmt: skip
        assert desk.ask(page, **refused)[0] == status, refused
    for path in ("/", "/state", "/x/", f"/{desk.token[:-1]}/", f"/{desk.token}/../etc/passwd"):
        status, headers, body = desk.ask(path)
        assert status == 404 and desk.token not in body and "ref" in headers["Referrer-Policy"]
    for method in ("POST", "PUT", "DELETE"):
        assert desk.ask(page, method)[0] in (404, 405)
    until(lambda: desk.state()["version"] >= 1)
    for query in ("", "?n0=x", "?n0=1e99", "?n0=nan", "?n0=-1"):
        assert desk.ask(f"/{desk.token}/at{query}")[0] == 400, query
    assert (desk.file.read_bytes(), os.listdir(desk.file.parent)) == before
    desk.stop()
    assert desk.token not in desk.log.read_text()


def test_a_file_that_is_wrong_is_told_and_no_old_verdict_stays(desk: Desk) -> None:
    until(lambda: desk.state()["version"] == 1)
    desk.file.write_text("title: <script>alert(1)</script>\ntrian: []\n")
    wrong = until(lambda: desk.state()["wrong"])
    assert "trian" in wrong
    body = desk.ask(f"/{desk.token}/")[2]
    assert "nothing was judged" in body and "trian" in body
    assert "MAY PROCEED" not in body and "<script>alert" not in body


def test_drag_save_lose_and_reload(desk: Desk, browser: Any) -> None:
    browser.open(desk.address, width=1000)
    verdict = "return document.querySelector('.verdict')?.textContent"
    until(lambda: browser.run(verdict))
    note = "return document.getElementById('desk-note').textContent"
    assert browser.overflow() <= 0
    asked = [url for url in browser.requests() if not url.startswith("data:")]
    assert asked and all(url.startswith(desk.address) for url in asked)

    # Drag: an answer without failures says that they follow, then they are in.
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    slider = browser.driver.find_element(By.CSS_SELECTOR, "#desk input")
    before = float(slider.get_attribute("value"))
    slider.send_keys(Keys.ARROW_RIGHT * 4)
    assert float(slider.get_attribute("value")) > before
    told = "return document.getElementById('desk-verdict').textContent"
    until(lambda: "failures follow" in browser.run(told))
    until(
        lambda: (
            browser.run("return document.getElementById('desk-verdict').dataset.failures") == "in"
        )
    )
    assert browser.run(told) in (
        "MAY PROCEED", "MAY PROCEED WITH CONDITIONS", "CANNOT BE JUDGED", "MUST NOT PROCEED",
    )  # fmt: skip

    # Save: the page renews itself.
    text = desk.file.read_text().replace("title: ", "title: Renewed ", 1)
    desk.file.write_text(text)
    until(lambda: "Renewed" in browser.run("return document.querySelector('h1').textContent"))
    until(lambda: browser.run(verdict))
    assert browser.complaints() == []

    # Lose the server: what stands there says that it may be old.
    desk.stop()
    until(lambda: "may be old" in browser.run(note))


def test_two_sliders_leave_marks_on_a_map(tmp_path: Path, browser: Any) -> None:
    file = tmp_path / "forming.yaml"
    file.write_text((SCENARIOS / "copper_oxide_forming_gas.yaml").read_text("utf-8"))
    running = Desk(file)
    try:
        browser.open(running.address, width=390)
        until(lambda: browser.run("return document.querySelectorAll('#desk input').length") >= 2)
        assert browser.overflow() <= 0
        from selenium.webdriver.common.by import By
        from selenium.webdriver.common.keys import Keys

        browser.driver.find_element(By.ID, "desk-1").send_keys(Keys.HOME)
        until(lambda: browser.run("return document.querySelectorAll('#desk-map text').length") >= 1)
        ring = "return Number(document.querySelector('#desk-map circle').getAttribute('cy'))"
        assert browser.run(ring) == pytest.approx(290, abs=0.5)  # the lowest value stands below
        assert browser.run("return document.getElementById('desk-map-says').textContent")
        assert browser.violations() == []
        browser.driver.find_element(By.ID, "desk-fill").click()
        faint = "return [...document.querySelectorAll('#desk-map .faint')].map(t => t.textContent)"
        until(lambda: len(browser.run(faint)) >= 9)
        assert set(browser.run(faint)) <= set("\u25cb\u25d0?\u2715\u2013")
        browser.driver.find_element(By.ID, "desk-1").send_keys(Keys.END)
        until(
            lambda: (
                "Ended"
                in browser.run("return document.getElementById('desk-fill-says').textContent")
            )
        )
    finally:
        running.stop()


def test_a_port_that_is_taken_is_told(desk: Desk) -> None:
    port = str(urlsplit(desk.address).port)
    code = "from review.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, "desk", desk.file, "--port", port],
        capture_output=True, text=True, timeout=WAIT,
    )  # fmt: skip
    assert done.returncode == 2 and "cannot be used" in done.stderr
