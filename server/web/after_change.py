"""Tells the background work that something may have changed, once a request that changes things has been answered."""

from __future__ import annotations

from collections.abc import Callable

from starlette.types import ASGIApp, Receive, Scope, Send

READING = ("GET", "HEAD", "OPTIONS")


class AfterChange:
    """Calls ``then`` after every request that is not a mere reading, nor to an address that ``unless`` says changes nothing."""

    def __init__(self, app: ASGIApp, *, then: Callable[[], None], unless: Callable[[str], bool] = lambda path: False):
        self._app, self._then, self._unless = app, then, unless

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await self._app(scope, receive, send)
        if scope["type"] == "http" and scope["method"] not in READING and not self._unless(scope["path"]):
            self._then()
