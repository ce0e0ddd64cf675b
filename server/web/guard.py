"""The door of the application: who may knock, how much they may carry in, and what every answer says to the browser.

There is no sign-in when Beaconry runs alone, so only this machine may talk to it: requests must name a loopback host, and a page of
another site must not be able to post a form here. Knows ASGI only, no page and no database.
"""

from __future__ import annotations

from collections.abc import Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.errors import InputProblem, NotAllowed, ProjectError

LOOPBACK_HOSTS = frozenset({"127.0.0.1", "localhost", "::1"})
LARGEST_BODY_BYTES = 10 * 1024 * 1024
LARGEST_GROUND_BYTES = 400 * 1024 * 1024
"""What a page may take that takes elevation files: sixteen tiles of one second, or a hundred and forty of three."""

READING_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

ANSWER_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}


TOO_LARGE = "beaconry.too-large"
"""Where the scope of a request keeps the refusal of a body that turned out too large while it arrived."""


class BodyTooLarge(InputProblem):
    """More bytes arrived than a form or a table may have."""

    code = "body-too-large"


class Guard:
    """ASGI middleware: checks the host, the origin and the size of a request, and adds the security headers to the answer.

    ``refuse`` makes the page for a refusal; ``takes_ground`` tells of an address whether elevation files may be sent to it.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        refuse: Callable[[ProjectError], Response],
        hosts: frozenset[str] = LOOPBACK_HOSTS,
        takes_ground: Callable[[str], bool] = lambda _path: False,
    ):
        self._app = app
        self._takes_ground = takes_ground
        self._refuse = refuse
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        head_only = scope["method"] == "HEAD"
        send = _finished(send, head_only=head_only)
        most_bytes = LARGEST_GROUND_BYTES if self._takes_ground(scope["path"]) else LARGEST_BODY_BYTES
        try:
            check_host(Headers(scope=scope), self._hosts)
            check_origin(scope["method"], Headers(scope=scope))
            check_announced_length(Headers(scope=scope), most_bytes=most_bytes)
        except ProjectError as refusal:
            answer = self._refuse(refusal)
            answer.headers["Connection"] = "close"  # whatever is still arriving is not read
            await answer(scope, receive, send)
            return
        inner_scope = dict(scope, method="GET") if head_only else scope
        await self._app(inner_scope, _limited(receive, inner_scope, most_bytes=most_bytes), send)


def check_host(headers: Headers, hosts: frozenset[str]) -> None:
    """Refuse a request that does not name this machine: another name that leads here is a trick (DNS rebinding)."""
    named = headers.getlist("host")
    if len(named) != 1 or _host_name(named[0]) not in hosts:
        raise NotAllowed("Beaconry answers on this machine only. Open it as http://127.0.0.1 with its port.", code="host-not-loopback")


def check_origin(method: str, headers: Headers) -> None:
    """Refuse a changing request that a page of another site sent."""
    if method in READING_METHODS:
        return
    origin = headers.get("origin")
    foreign_origin = origin is not None and _place_of(origin) != headers.get("host", "")
    foreign_fetch = headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none")
    if foreign_origin or foreign_fetch:
        raise NotAllowed(
            "This form was sent from another site, so nothing was changed. Open the page in Beaconry and send it from there.",
            code="cross-site-request",
        )


def check_announced_length(headers: Headers, *, most_bytes: int) -> None:
    """Refuse a body that says itself that it is too large, before a byte of it is read."""
    announced = headers.get("content-length", "0")
    if not (announced.isascii() and announced.isdigit()) or int(announced[:18]) > most_bytes:
        raise _too_large(most_bytes)


def _too_large(most_bytes: int) -> BodyTooLarge:
    what = "the table" if most_bytes == LARGEST_BODY_BYTES else "what you send"
    limit_mb = most_bytes // (1024 * 1024)
    text = f"What you sent is larger than {limit_mb} MB, so it was not read. Split {what}, or use the command line: beaconry load."
    return BodyTooLarge(text)


def _host_name(host: str) -> str:
    try:
        return (urlsplit(f"//{host}").hostname or "").lower()
    except ValueError:
        return ""


def _place_of(origin: str) -> str | None:
    try:
        return urlsplit(origin).netloc
    except ValueError:  # such as http://[
        return None


def _limited(receive: Receive, scope: Scope, *, most_bytes: int) -> Receive:
    """Count the bytes as they arrive; a body without an announced length ends here too."""
    arrived = 0

    async def counted() -> Message:
        nonlocal arrived
        message = await receive()
        arrived += len(message.get("body", b""))
        if arrived > most_bytes:
            scope[TOO_LARGE] = _too_large(most_bytes)  # whoever reads the body may turn the error into another one
            raise scope[TOO_LARGE]
        return message

    return counted


def _finished(send: Send, *, head_only: bool) -> Send:
    """Add the security headers; to HEAD send the head of what GET would have got."""

    async def sent(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in ANSWER_HEADERS.items():
                headers.setdefault(name, value)
        elif head_only:
            message = {**message, "body": b""}
        await send(message)

    return sent
