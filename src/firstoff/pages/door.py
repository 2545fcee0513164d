"""The door: who may ask anything of the pages at all.

By default the pages hear this computer alone. On a network they ask for a password first; what is kept of it is a hash that cannot be turned
back. Whatever the network, a page of somebody else's that is open in the same browser must not act here: the name that a request was sent to
and the page that it comes from are held against the names that this server goes by.
"""

from __future__ import annotations

import ipaddress
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from starlette.requests import HTTPConnection
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

COOKIE = "firstoff_session"
SESSION_S = 12 * 3600.0
"""A shift and a half: then the password is asked again."""
MOST_SESSIONS = 100
TRIES, TRIES_WITHIN_S = 5, 60.0
"""Passwords that one address may try, and all addresses together ten times as many."""
ASKED, ASKED_WITHIN_S = 600, 10.0
"""Requests of one address: a page with all its parts asks for a few dozen."""
LARGEST_BODY = 128_000_000
"""Bytes: a program of four million lines."""
OPEN_TO_ALL = ("/enter", "/static/")
"""What is needed to ask for the password."""
CHANGING = frozenset({"POST", "PUT", "PATCH", "DELETE"})
HEADERS = {
    "content-security-policy": (
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'; "
        "base-uri 'none'; form-action 'self'; object-src 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "x-frame-options": "DENY",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
Clock = Callable[[], float]


def hashed(password: str) -> str:
    """What is kept of a password: argon2id with the library's own parameters."""
    return PasswordHasher().hash(password)


@dataclass(slots=True)
class Limiter:
    """So many of each name within so many seconds."""

    most: int
    within_s: float
    clock: Clock = time.monotonic
    seen: dict[str, deque[float]] = field(default_factory=dict)

    def allows(self, name: str) -> bool:
        """Whether one more may come; it is counted."""
        now = self.clock()
        if len(self.seen) > 10_000:  # addresses can be made up; what is old says nothing
            self.seen = {key: times for key, times in self.seen.items() if times and now - times[-1] < self.within_s}
        times = self.seen.setdefault(name, deque())
        while times and now - times[0] >= self.within_s:
            times.popleft()
        if len(times) >= self.most:
            return False
        times.append(now)
        return True


@dataclass(slots=True)
class Door:
    """Who may enter, and who is inside."""

    names: frozenset[str]
    """``host:port`` that this server goes by, in small letters."""
    password_hash: str | None = None
    """None: this computer alone, no password."""
    clock: Clock = time.monotonic
    sessions: dict[str, float] = field(default_factory=dict)
    """Token -> when it began."""
    tries: Limiter = field(init=False)
    all_tries: Limiter = field(init=False)
    asked: Limiter = field(init=False)

    def __post_init__(self) -> None:
        self.tries = Limiter(TRIES, TRIES_WITHIN_S, self.clock)
        self.all_tries = Limiter(10 * TRIES, TRIES_WITHIN_S, self.clock)
        self.asked = Limiter(ASKED, ASKED_WITHIN_S, self.clock)

    def knows(self, token: str | None) -> bool:
        """Whether a cookie opens the door."""
        if self.password_hash is None:
            return True
        began = self.sessions.get(token or "")
        return began is not None and self.clock() - began < SESSION_S

    def enter(self, address: str, password: str) -> str | None:
        """A new session's token where the password is right; None where it is not, or too many were tried."""
        if self.password_hash is None or not (self.tries.allows(address) and self.all_tries.allows("all")):
            return None
        try:
            PasswordHasher().verify(self.password_hash, password)
        except (VerificationError, InvalidHashError):
            return None
        now = self.clock()
        alive = {token: began for token, began in self.sessions.items() if now - began < SESSION_S}
        self.sessions = dict(list(alive.items())[-MOST_SESSIONS + 1 :])
        token = secrets.token_urlsafe(32)
        self.sessions[token] = now
        return token

    def leave(self, token: str | None) -> None:
        """End a session."""
        self.sessions.pop(token or "", None)


def names_of(addresses: list[str], port: int) -> frozenset[str]:
    """The names that a server at these addresses goes by; a browser leaves out port 80."""
    told = []
    for address in ("localhost", "127.0.0.1", "::1", *addresses):
        host = address.lower()
        try:
            if ipaddress.ip_address(host).version == 6:
                host = f"[{host}]"
        except ValueError:
            pass
        told += [f"{host}:{port}", *([host] if port == 80 else [])]
    return frozenset(told)


class Guard:
    """The door before the pages: an ASGI middleware."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return  # nothing here speaks over sockets
        refused = self._refused(HTTPConnection(scope))
        if refused is not None:
            await refused(scope, receive, _with_headers(send))
            return
        await self.app(scope, _bounded(receive), _with_headers(send))

    def _refused(self, asked: HTTPConnection) -> Response | None:
        door, path, method = self.door, asked.url.path, asked.scope["method"]
        address = asked.client.host if asked.client else ""
        if not door.asked.allows(address):
            return PlainTextResponse("Too many requests. Wait ten seconds.", 429, {"retry-after": "10"})
        if asked.headers.get("host", "").lower() not in door.names:
            return PlainTextResponse("This server does not go by that name.", 421)
        if method in CHANGING and not _from_our_page(asked, door):
            return PlainTextResponse("Only a page of this server may change anything.", 403)
        length = asked.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > LARGEST_BODY:
            return PlainTextResponse(f"At most {LARGEST_BODY // 1_000_000} MB.", 413)
        if door.knows(asked.cookies.get(COOKIE)) or path.startswith(OPEN_TO_ALL):
            return None
        if path.startswith("/api/"):
            return JSONResponse({"detail": "Enter the password at /enter first."}, 401)
        return RedirectResponse("/enter", 303)


def _from_our_page(asked: HTTPConnection, door: Door) -> bool:
    """What a browser says of where a request comes from. A program that is no browser says nothing, and nobody can make it act unseen."""
    if asked.headers.get("sec-fetch-site", "none") not in ("same-origin", "none"):
        return False
    origin = asked.headers.get("origin")
    return origin is None or origin.lower().partition("://")[2] in door.names


class _TooLargeError(Exception):
    """More came than was announced."""


def _bounded(receive: Receive) -> Receive:
    """A body that does not say its length is cut off at the same bound."""
    seen = 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > LARGEST_BODY:
            raise _TooLargeError
        return message

    return bounded


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in message["headers"]}
            more = [(name.encode(), value.encode()) for name, value in HEADERS.items() if name.encode() not in own]
            message = {**message, "headers": [*message["headers"], *more]}
        await send(message)

    return with_headers
