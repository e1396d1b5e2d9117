"""The screen's server, in a thread of its own: one page, one stream of news, and a few doors for what the page wants to say.

    GET  /        the page; it holds nothing of the job
    GET  /role    who the page is here: bench or viewer; 401 when the key is wanted
    GET  /events  server-sent events: `hello` (the role), `view` (the newest, whole), `beat` (every two seconds: all is well), `over`
    POST /enter   {"key"}: the key of this bench, for a cookie that stands for it
    POST /say     {"words", "at"}: as if it had been typed
    POST /pedal   {"at"}: the foot pedal
    POST /gauge   {"channel", "value", "unit", "at"}: a settled reading that was taken

`at` names the state that the page was showing. What comes after the job has gone on is refused, so that a second tap, or a second screen,
never answers a question that nobody has read. A door answers when the job has taken it in, and by then it is on disk.

Elsewhere than on this computer's own address everything but the page and /enter asks for a key. A page of somebody else's can neither act nor
look: the host it names, where it comes from and what it sends are held to ours (plain HTTP; for the shop's own network, not for the open one).
"""

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from concurrent.futures import Future, InvalidStateError
from contextlib import suppress
from typing import Any, Protocol

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from assistant.core.effects import Effect
from assistant.core.inputs import Bad, Input, Pedal, Said
from assistant.core.state import State
from assistant.headless import input_from
from assistant.screen.address import Keys, Place
from assistant.screen.hub import Hub
from assistant.screen.page import page_for
from assistant.screen.words import Words, words_for

BEAT_SECONDS = 2.0
ANSWER_SECONDS = 10.0
_LONGEST_BODY = 4_000
_LONGEST_WORDS = 300
_YEAR = 365 * 24 * 3600


class Put(Protocol):
    """How the screen hands an input to the job's queue."""

    def __call__(self, given: Input, still_holds: Callable[[], bool], answered: Callable[[str], None]) -> None:
        """still_holds, answered: as in `live.Guarded`; both are called in the job's thread."""
        ...


class Screen:
    """The running screen. `watch` and `note` are called by the job's thread and never wait."""

    def __init__(self, place: Place, put: Put, language: str = "en") -> None:
        """Start to serve at a place that was opened."""
        self._hub = Hub(words_for(language))
        self._place = place
        application = build(self._hub, put, place.keys, words_for(language), place.own_hosts)
        config = uvicorn.Config(
            application, log_level="warning", access_log=False, lifespan="off", timeout_graceful_shutdown=2, server_header=False
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [place.socket]}, name="screen", daemon=True)
        self._thread.start()

    @property
    def at(self) -> str:
        """The name of the state that the pages get now."""
        return self._hub.at

    def watch(self, state: State, effects: Sequence[Effect]) -> None:
        """A new state, on disk, and the batch that brought it."""
        self._hub.watch(state, effects)

    def note(self, text: str, urgency: str) -> None:
        """Something said that changes nothing."""
        self._hub.note(text, urgency)

    def close(self) -> None:
        """Let every page have the last view, then serve no more. A page keeps showing how the job ended."""
        self._hub.finish()
        self._server.should_exit = True
        self._thread.join(5.0)
        self._place.close()


# ---- the application


def build(hub: Hub, put: Put, keys: Keys | None, words: Words, hosts: frozenset[str] | None) -> Starlette:
    """The application on its own, as tests call it. hosts: the only ones that a request may name; None for any."""
    doors = _Doors(hub, put, keys, words, hosts)
    return Starlette(
        routes=[
            Route("/", doors.page),
            Route("/role", doors.role),
            Route("/events", doors.events),
            Route("/enter", doors.enter, methods=["POST"]),
            Route("/say", doors.say, methods=["POST"]),
            Route("/pedal", doors.pedal, methods=["POST"]),
            Route("/gauge", doors.gauge, methods=["POST"]),
        ],
        exception_handlers={HTTPException: _refused},
    )


async def _refused(request: Request, error: Exception) -> Response:
    del request
    assert isinstance(error, HTTPException)
    return JSONResponse({"text": error.detail}, error.status_code, headers=_headers())


class _Doors:
    def __init__(self, hub: Hub, put: Put, keys: Keys | None, words: Words, hosts: frozenset[str] | None) -> None:
        self._hub, self._put, self._keys, self._words, self._hosts = hub, put, keys, words, hosts
        self._page = page_for(words)

    # -- looking

    async def page(self, request: Request) -> Response:
        self._check_host(request)
        headers = _headers({"Content-Security-Policy": self._page.policy})
        return Response(self._page.body, media_type="text/html; charset=utf-8", headers=headers)

    async def role(self, request: Request) -> Response:
        self._check_host(request)
        return JSONResponse({"role": self._role(request)}, headers=_headers())

    async def events(self, request: Request) -> Response:
        self._check_host(request)
        self._check_origin(request)
        role = self._role(request)
        return StreamingResponse(self._news(role), media_type="text/event-stream", headers=_headers({"X-Accel-Buffering": "no"}))

    async def _news(self, role: str) -> AsyncIterator[str]:
        loop, news = asyncio.get_running_loop(), asyncio.Event()

        def waker() -> None:
            # The job's thread calls it; a server that has just closed is no trouble of the job's.
            with suppress(RuntimeError):
                loop.call_soon_threadsafe(news.set)

        self._hub.attend(waker)
        try:
            yield _event("hello", json.dumps({"role": role, "beat_seconds": BEAT_SECONDS}))
            seen = -1
            while True:
                news.clear()
                is_over = self._hub.is_finished
                made = await run_in_threadpool(self._hub.made)
                if made is not None and made[0] != seen:
                    seen = made[0]
                    yield _event("view", made[1])
                if is_over:
                    yield _event("over", "{}")
                    return
                try:
                    await asyncio.wait_for(news.wait(), BEAT_SECONDS)
                except TimeoutError:
                    yield _event("beat", "{}")
        finally:
            self._hub.leave(waker)

    # -- entering

    async def enter(self, request: Request) -> Response:
        body = await self._body(request)
        key = body.get("key")
        role = self._keys.role(key) if self._keys is not None and isinstance(key, str) else None
        if role is None or self._keys is None:
            raise HTTPException(401, self._words.say("no_key"))
        answer = JSONResponse({"role": role}, headers=_headers())
        held = self._keys.bench if role == "bench" else self._keys.viewer
        answer.set_cookie(_cookie(request), held, max_age=_YEAR, httponly=True, samesite="strict", path="/")
        return answer

    # -- acting

    async def say(self, request: Request) -> Response:
        body = await self._acting(request)
        spoken = body.get("words")
        if not isinstance(spoken, str) or not spoken.strip() or len(spoken) > _LONGEST_WORDS:
            raise HTTPException(400, self._words.say("not_words"))
        return await self._hand_in(Said(spoken), body)

    async def pedal(self, request: Request) -> Response:
        body = await self._acting(request)
        return await self._hand_in(Pedal(), body)

    async def gauge(self, request: Request) -> Response:
        body = await self._acting(request)
        given = input_from({"gauge": {name: value for name, value in body.items() if name != "at"}})
        if isinstance(given, Bad):
            raise HTTPException(400, given.text)
        return await self._hand_in(given, body)

    async def _acting(self, request: Request) -> Mapping[str, Any]:
        body = await self._body(request)
        if self._role(request) != "bench":
            raise HTTPException(403, self._words.say("only_looking"))
        return body

    async def _hand_in(self, given: Input, body: Mapping[str, Any]) -> Response:
        at = body.get("at")
        done: Future[str | None] = Future()

        def still_holds() -> bool:
            if at != self._hub.at:
                answered(None)
                return False
            # Once it is taken up it can no longer be given up; what was given up here is not taken up later.
            return done.set_running_or_notify_cancel()

        def answered(refusal: str | None) -> None:
            with suppress(InvalidStateError):
                done.set_result(refusal)

        self._put(given, still_holds, answered)
        try:
            refusal = await asyncio.wait_for(asyncio.wrap_future(done), ANSWER_SECONDS)
        except TimeoutError:
            return JSONResponse({"text": self._words.say("no_answer")}, 503, headers=_headers())
        if refusal is None:
            return JSONResponse({"text": self._words.say("gone_on")}, 409, headers=_headers())
        if refusal:
            return JSONResponse({"text": refusal}, 507, headers=_headers())
        return JSONResponse({"taken": True}, headers=_headers())

    # -- who asks

    def _role(self, request: Request) -> str:
        """bench or viewer, by the key; on our own address whoever has no key sits at the bench. Raises 401."""
        if self._keys is None:
            return "bench"
        role = self._keys.role(request.cookies.get(_cookie(request), ""))
        if role is None:
            raise HTTPException(401, self._words.say("no_key"))
        return role

    def _check_host(self, request: Request) -> None:
        # Without a key, a name that somebody has pointed at this computer must not open it to their page.
        if self._hosts is not None and request.headers.get("host", "").lower() not in self._hosts:
            raise HTTPException(421, "this address is not the screen's")

    def _check_origin(self, request: Request) -> None:
        origin = request.headers.get("origin")
        host = request.headers.get("host", "").lower()
        site = request.headers.get("sec-fetch-site", "same-origin")
        if site not in ("same-origin", "none") or (origin is not None and origin.lower().partition("://")[2] != host):
            raise HTTPException(403, "only the screen's own page may do this")

    async def _body(self, request: Request) -> Mapping[str, Any]:
        """The JSON object that was sent, from our own page. Raises 400, 403, 413, 415 or 421."""
        self._check_host(request)
        self._check_origin(request)
        # A form of another page cannot say that it sends JSON without asking first.
        if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
            raise HTTPException(415, "expected application/json")
        raw = b""
        async for piece in request.stream():
            raw += piece
            if len(raw) > _LONGEST_BODY:
                raise HTTPException(413, f"expected at most {_LONGEST_BODY} bytes")
        try:
            body = json.loads(raw)
        except (ValueError, RecursionError) as error:
            raise HTTPException(400, "expected a JSON object") from error
        if not isinstance(body, dict):
            raise HTTPException(400, "expected a JSON object")
        return body


def _cookie(request: Request) -> str:
    """Cookies do not tell the ports of one computer apart, and each bench has a port of its own."""
    return f"benchhand_{request.url.port or 80}"


def _event(name: str, data: str) -> str:
    return f"event: {name}\ndata: {data}\n\n"


def _headers(more: Mapping[str, str] | None = None) -> dict[str, str]:
    return {
        "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Cross-Origin-Resource-Policy": "same-origin",
        **(more or {}),
    }
