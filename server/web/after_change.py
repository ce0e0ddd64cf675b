"""Tells the background work that something may have changed, once a request that changes things has been answered."""

from __future__ import annotations

from collections.abc import Callable

from starlette.types import ASGIApp, Receive, Scope, Send

READING = ("GET", "HEAD", "OPTIONS")


class AfterChange:
    """Calls ``then`` after every request that is not a mere reading."""

    def __init__(self, app: ASGIApp, *, then: Callable[[], None]):
        self._app, self._then = app, then

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._app(scope, receive, send)
        if scope["type"] == "http" and scope["method"] not in READING:
            self._then()
