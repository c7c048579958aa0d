"""A real browser without a window, of the system's own packages."""

from __future__ import annotations

import base64
import json
import os
import shutil
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
#: On a machine that only tries the rest these are left out; the full run has them.
LACKING = [
    name
    for name, there in (
        ("chromium", CHROMIUM), ("chromedriver", DRIVER), ("selenium", find_spec("selenium")),
        ("axe-core-python", find_spec("axe_core_python")),
    )
    if not there
]  # fmt: skip


class Browser:
    """One page at a time, looked at as a phone, a desk or paper would."""

    def __init__(self, driver: Any) -> None:
        self.driver = driver

    def open(self, url: str, width: int = 1000, dark: bool = False) -> None:
        """Loads a page in a window of this width."""
        self._tell("Emulation.setDeviceMetricsOverride", width=width, height=844,
                   deviceScaleFactor=1, mobile=width < 600)  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self._tell("Emulation.setEmulatedMedia", features=[scheme])
        self.driver.get_log("performance")
        self.driver.get_log("browser")
        self.driver.get(url)

    def run(self, script: str) -> Any:
        """The value of a script in the page."""
        return self.driver.execute_script(script)

    def unfold(self) -> None:
        """Opens what is folded."""
        self.run("document.querySelectorAll('details').forEach(d => d.open = true)")

    def overflow(self) -> int:
        """By how many pixels the page is wider than the window."""
        return int(self.run("return document.documentElement.scrollWidth - innerWidth"))

    def complaints(self) -> list[str]:
        """What stands on the console."""
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def requests(self) -> list[str]:
        """Where the page has asked for something since it was opened."""
        messages = (json.loads(e["message"])["message"] for e in self.driver.get_log("performance"))
        return [
            m["params"]["request"]["url"]
            for m in messages if m["method"] == "Network.requestWillBeSent"
        ]  # fmt: skip

    def violations(self) -> list[str]:
        """What axe-core finds serious or critical."""
        import axe_core_python

        source = Path(axe_core_python.__file__).with_name("axe.min.js").read_text("utf-8")
        self.run(source)
        found = self.driver.execute_async_script(
            "axe.run(document, {resultTypes: ['violations']}).then(arguments[0])"
        )
        return [
            f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:200]}"
            for v in found["violations"] if v["impact"] in ("serious", "critical")
        ]  # fmt: skip

    def pdf(self, paper: tuple[float, float] = (8.27, 11.69)) -> bytes:
        """The page on paper, inches."""
        wide, high = paper
        done = self._tell("Page.printToPDF", paperWidth=wide, paperHeight=high)
        return base64.b64decode(done["data"])

    def _tell(self, command: str, **given: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, given)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    if LACKING:
        if os.environ.get("CI"):
            pytest.fail(f"not installed: {', '.join(LACKING)}")
        pytest.skip(f"not installed: {', '.join(LACKING)}")
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    for flag in ("headless=new", "no-sandbox", "disable-gpu", "disable-dev-shm-usage"):
        options.add_argument(f"--{flag}")
    options.binary_location = CHROMIUM
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    driver.set_script_timeout(120)
    try:
        yield Browser(driver)
    finally:
        driver.quit()
