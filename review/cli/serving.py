"""The page of one set-up, served to this machine alone, which follows the file and its sliders.

It reads and never writes. Every request must name this host and carry the token in its address, and
one from another page is refused. What is shown of a slider is a review of the changed text, first
without failures, which is said, then with them.
"""

from __future__ import annotations

import hmac
import math
import secrets
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

from review.explore.points import Points, RangeError, Turned, plain, turned
from review.interface.result import Review
from review.render import words
from review.render.html import Desk, environment, to_html
from review.render.telling import contents
from review.scenario import InputError, Scenario, numbers

if TYPE_CHECKING:
    from review.engine.reviewing import Engine

#: So many sliders are offered where none is named.
_SLIDERS = 6
_HEADERS = {
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


@dataclass(slots=True)
class _Known:
    """What is known of the file: counted up whenever it changes."""

    version: int = 0
    page: str = ""
    wrong: str = ""
    points: Points | None = None
    quick: Points | None = None
    stamp: tuple[int, int] | None = None
    reviewing: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)


class Served:
    """One file, reviewed again whenever it is saved."""

    def __init__(
        self, file: Path, engine: Callable[[], Engine], asked: Sequence[str], host: str
    ) -> None:
        self.file, self.asked, self.host = file, tuple(asked), host
        self.token, self.nonce = secrets.token_urlsafe(24), secrets.token_urlsafe(12)
        # Two, so that a slider's quick answer need not wait for a whole review.
        self._whole, self._quick = engine(), engine()
        self._one, self._other = threading.Lock(), threading.Lock()
        self._known = _Known()

    @property
    def address(self) -> str:
        """Where the page is."""
        return f"http://{self.host}/{self.token}/"

    def look(self) -> None:
        """Review the file again, in a thread of its own, where it was saved since the last look."""
        known = self._known
        try:
            stat = self.file.stat()
            stamp: tuple[int, int] | None = (stat.st_mtime_ns, stat.st_size)
        except OSError:
            stamp = (0, 0)
        with known.lock:
            if known.reviewing or stamp == known.stamp:
                return
            known.reviewing, known.stamp = True, stamp
        threading.Thread(target=self._renew, daemon=True).start()

    def _renew(self) -> None:
        known = self._known
        page, wrong, points, quick = "", "", None, None
        try:
            text = self.file.read_text("utf-8")
            with self._one:
                page, points, quick = self._reviewed(text)
        except (InputError, RangeError, OSError, UnicodeDecodeError) as error:
            wrong = str(error)
        except Exception as error:  # a fault of ours: the page says so and no old one stays
            wrong = f"A fault in the tool, and nothing was judged: {type(error).__name__}: {error}"
        with known.lock:
            known.page, known.wrong, known.points, known.quick = page, wrong, points, quick
            known.version += 1
            known.reviewing = False
        if quick is not None:  # so that the first answer to a slider does not wait for a cold start
            with self._other:
                quick.at(*(one.value for one in quick.turned))

    def _reviewed(self, text: str) -> tuple[str, Points, Points]:
        engine, name = self._whole, str(self.file)
        scenario = engine.loads(text, name)
        review = engine.review(scenario)
        chosen = self._chosen(scenario, text)
        leading = [cause.leading for cause in review.causes]
        pictures: Sequence[Any] = ()
        lacks = ""
        try:
            from review.render.pictures import pictures as drawn

            pictures = drawn(review, engine.played(scenario))
        except ModuleNotFoundError:
            lacks = "The pictures are left out: they need matplotlib."
        desk = Desk(self._known.version + 1, self.nonce, tuple(chosen))
        page = to_html(
            review, engine.workings(scenario, review, leading), pictures, lacks=lacks, desk=desk
        )
        whole = Points(text, name, chosen, lambda changed: engine.review(changed))
        quick = Points(
            text, name, chosen, lambda changed: self._quick.review(changed, upsets=False)
        )
        return page, whole, quick

    def _chosen(self, scenario: Scenario, text: str) -> list[Turned]:
        """What was asked for; else rates of flows and set temperatures, as far as written."""
        data = plain(text, str(self.file))
        if self.asked:
            return [turned(scenario, data, path) for path in self.asked]
        known = numbers(scenario)
        paths = [(f"flows.{name}.rate", f"flows.{name}.at_most") for name in scenario.flows]
        paths += [
            (f"heat.{name}.set_temperature", f"heat.{name}.hottest") for name in scenario.heat
        ]
        found = []
        for path, most in paths:
            try:
                one = turned(scenario, data, path)
            except RangeError:
                continue
            found.append(_capped(one, known[path], known.get(most, math.inf)))
        return found[:_SLIDERS]

    def state(self) -> dict[str, Any]:
        """What a page asks again and again: whether what it shows is still so."""
        self.look()
        known = self._known
        with known.lock:
            return {"version": known.version, "reviewing": known.reviewing, "wrong": known.wrong}

    def page(self) -> str:
        """The page as it is now."""
        self.look()
        known = self._known
        with known.lock:
            if known.page:
                return known.page
            wrong, version = known.wrong, known.version
        template = environment().get_template("waiting.html.j2")
        return template.render(
            file=words.clean(str(self.file)), wrong=wrong.splitlines(), version=version,
            nonce=self.nonce,
        )  # fmt: skip

    def at(self, given: Mapping[str, str]) -> dict[str, Any]:
        """What a review says with the sliders set so. Raises ValueError for what is no setting."""
        known = self._known
        failures = given.get("failures") == "1"
        with known.lock:
            points = known.points if failures else known.quick
        if points is None:
            raise ValueError("nothing is known yet")
        values = [float(given[f"n{n}"]) for n in range(len(points.turned))]
        if not all(t.low <= v <= t.high for t, v in zip(points.turned, values, strict=True)):
            raise ValueError("outside the range")
        with self._one if failures else self._other:
            return _answer(points, values, failures, self._whole if failures else self._quick)


def _capped(one: Turned, planned: float, most: float) -> Turned:
    """No further than what the flow can deliver or the source can reach, both in SI."""
    if one.unit in ("degC", "K"):
        return replace(one, high=min(one.high, one.value + most - planned))
    return replace(one, high=min(one.high, one.value * most / planned)) if planned > 0 else one


def _answer(
    points: Points, values: Sequence[float], failures: bool, engine: Engine
) -> dict[str, Any]:
    shown = [t.show(v) for t, v in zip(points.turned, values, strict=True)]
    told: dict[str, Any] = {"values": list(values), "shown": shown, "failures": failures}
    try:
        scenario = engine.loads(points.text(*values), "the file with these settings")
    except InputError as error:
        return told | {"verdict": "wrong input", "says": words.clean(error.problems[0].message)}
    review: Review = engine.review(scenario, upsets=failures)
    said = contents(review)
    first = said.causes[0].headline if said.causes else f"Nearest limits: {said.nearest or 'none'}"
    return told | {"verdict": review.verdict, "says": words.clean(first)}


def app(served: Served) -> Starlette:
    """What answers: three addresses below the token, all of them reading only."""

    def guarded(answer: Callable[[Request], Response]) -> Callable[[Request], Any]:
        async def asked(request: Request) -> Response:
            refused = _refused(served, request)
            response = await run_in_threadpool(answer, request) if refused is None else refused
            for name, value in _HEADERS.items():
                response.headers[name] = value
            response.headers["Content-Security-Policy"] = (
                f"default-src 'none'; script-src 'nonce-{served.nonce}'; img-src data:; "
                "style-src 'unsafe-inline'; connect-src 'self'; base-uri 'none'; "
                "form-action 'none'; frame-ancestors 'none'"
            )
            return response

        return asked

    def page(request: Request) -> Response:
        return HTMLResponse(served.page())

    def state(request: Request) -> Response:
        return JSONResponse(served.state())

    def at(request: Request) -> Response:
        try:
            return JSONResponse(served.at(request.query_params))
        except (KeyError, ValueError):
            return PlainTextResponse("No such setting.", 400)

    def nothing(request: Request) -> Response:
        return PlainTextResponse("Not here.", 404)

    return Starlette(
        routes=[
            Route("/{token}/", guarded(page)),
            Route("/{token}/state", guarded(state)),
            Route("/{token}/at", guarded(at)),
            Route("/{rest:path}", guarded(nothing), methods=["GET", "POST", "PUT", "DELETE"]),
        ]
    )


def _refused(served: Served, request: Request) -> Response | None:
    """A request for another host, from another page or without the token."""
    port = served.host.rpartition(":")[2]
    hosts = {served.host, f"localhost:{port}"}
    if request.headers.get("host", "") not in hosts:
        return PlainTextResponse("Another host.", 421)
    origin = request.headers.get("origin")
    if origin is not None and origin not in {f"http://{host}" for host in hosts}:
        return PlainTextResponse("Another origin.", 403)
    if request.headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
        return PlainTextResponse("Another origin.", 403)
    token = request.path_params.get("token", "")
    if not hmac.compare_digest(token.encode(), served.token.encode()):
        return PlainTextResponse("Not here.", 404)
    return None
