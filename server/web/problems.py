"""From an error to a page: the one table of HTTP states, and the handlers that use it. No page ever shows a stack trace."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import ClassVar
from urllib.parse import urlsplit

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from server.errors import Conflict, InputProblem, NotAllowed, NotFound, OutOfRange, ProjectError, TerrainMissing
from server.persistence import RegionRecord
from server.web.guard import ANSWER_HEADERS, TOO_LARGE, BodyTooLarge
from server.web.pages import Page, Pages

STATUS_OF: tuple[tuple[type[ProjectError], int, str], ...] = (
    (BodyTooLarge, 413, "Too large"),
    (InputProblem, 422, "This cannot be used as it is"),
    (OutOfRange, 422, "Outside the range that holds"),
    (NotFound, 404, "Not here"),
    (NotAllowed, 403, "Not allowed"),
    (Conflict, 409, "This does not fit what is there now"),
    (TerrainMissing, 409, "Ground is missing"),
    (ProjectError, 422, "This cannot be done"),
)

STATUS_OF_CODE = {"database-unusable": 503}
"""What is wrong with the machine and not with what was asked."""

TITLE_OF_CODE = {
    "database-unusable": "The database cannot be used",
    "in-use": "Something else depends on it",
    "stale-version": "It was changed meanwhile",
}
"""Where the family's title says less than the code knows."""

WORDS_OF_STATUS = {
    404: ("Not here", "There is no such page. Go back, or begin at the start page."),
    405: ("Not that way", "This address does not take that kind of request. Go back, or begin at the start page."),
    400: ("Not readable", "The form that arrived could not be read. Go back and send it again."),
}
BROKEN = (
    "Something broke",
    "Beaconry made a mistake, and nothing was changed. It is written in the log of the server. Try again, or go back.",
)

log = logging.getLogger("beaconry.web")


@dataclass(frozen=True, kw_only=True)
class ProblemPage(Page):
    template: ClassVar[str] = "problem.html"
    message: str
    """What is wrong and what to do, in words."""
    details: tuple[str, ...] = ()
    """Each single problem, where there are several."""
    back: str = ""
    """Address on this site the browser came from, or empty."""


def page_before(request: Request) -> str:
    """Return the address of the page on this site that led here; empty where there is none or it is another site's."""
    try:
        came_from = urlsplit(request.headers.get("referer", ""))
    except ValueError:  # such as http://[
        return ""
    if came_from.netloc != request.headers.get("host", "") or not came_from.path.startswith("/") or came_from.path.startswith("//"):
        return ""
    return came_from.path + (f"?{came_from.query}" if came_from.query else "")


def status_of(error: ProjectError) -> int:
    """The HTTP state that tells this error."""
    if error.code in STATUS_OF_CODE:
        return STATUS_OF_CODE[error.code]
    return next(status for family, status, _title in STATUS_OF if isinstance(error, family))


def page_for(pages: Pages, error: ProjectError, *, back: str = "", region: RegionRecord | None = None) -> Response:
    """The page that tells this error."""
    status = status_of(error)
    title = TITLE_OF_CODE.get(error.code) or next(title for family, _status, title in STATUS_OF if isinstance(error, family))
    problems = error.problems if isinstance(error, InputProblem) else ()
    details = tuple(problem.message for problem in problems) if len(problems) > 1 else ()
    page = ProblemPage(title=title, section="", region=region, message=error.message, details=details, back=back)
    return pages.show(page, status=status)


def sent_by_script(request: Request) -> bool:
    """Whether a script of ours sent this, as JSON or asking for JSON: it reads a refusal as values and shows it where it stands."""
    told, wanted = (request.headers.get(name, "") for name in ("content-type", "accept"))
    return told.startswith("application/json") or wanted == "application/json"


def told_to_script(message: str, *, code: str, status: int) -> Response:
    """A refusal as a script reads it."""
    return JSONResponse({"trouble": message, "code": code}, status_code=status, headers={"Cache-Control": "no-store"})


def handle_problems(app: FastAPI, pages: Pages, *, region_at: Callable[[str], RegionRecord | None]) -> None:
    """Let every error of a request end in a page of the house. ``region_at`` finds the region that an address lies in."""

    def plain(request: Request, status: int, headers: dict[str, str] | None = None) -> Response:
        title, message = WORDS_OF_STATUS.get(status, (HTTPStatus(status).phrase, "This could not be done. Go back and try again."))
        region = region_at(request.url.path)
        page = pages.show(ProblemPage(title=title, section="", region=region, message=message), status=status)
        page.headers.update(headers or {})
        return page

    @app.exception_handler(ProjectError)
    async def project_error(request: Request, error: ProjectError) -> Response:
        if sent_by_script(request):
            return told_to_script(error.message, code=error.code, status=status_of(error))
        page = page_for(pages, error, back=page_before(request), region=region_at(request.url.path))
        if isinstance(error, BodyTooLarge):
            page.headers["Connection"] = "close"
        return page

    @app.exception_handler(HTTPException)
    async def http_error(request: Request, error: HTTPException) -> Response:
        too_large = request.scope.get(TOO_LARGE)
        if too_large is not None:
            return await project_error(request, too_large)
        headers = dict(error.headers or {})
        if error.status_code == 405:
            headers.setdefault("Allow", "GET, HEAD")
        if sent_by_script(request):
            _, message = WORDS_OF_STATUS.get(error.status_code, ("", "This could not be done. Open the page again."))
            told = told_to_script(message, code=InputProblem.code, status=error.status_code)
            told.headers.update(headers)
            return told
        return plain(request, error.status_code, headers)

    @app.exception_handler(RequestValidationError)
    async def wrong_address(request: Request, error: RequestValidationError) -> Response:
        if any(problem["loc"][0] == "path" for problem in error.errors()):
            return plain(request, 404)
        fields = [[part for part in problem["loc"][1:] if isinstance(part, str)] for problem in error.errors()]
        names = ", ".join(dict.fromkeys(named[-1] for named in fields if named))
        if sent_by_script(request):
            text = f"What this page sent cannot be {f'used: look at {names}' if names else 'read'}. Correct it, or open the page again."
            return told_to_script(text, code=InputProblem.code, status=422)
        refusal = InputProblem(f"The address asks for something that cannot be: look at {names} in it.")
        return page_for(pages, refusal, region=region_at(request.url.path))

    @app.exception_handler(Exception)
    async def broken(request: Request, error: Exception) -> Response:
        log.error("%s %s broke", request.method, request.url.path, exc_info=error)
        title, message = BROKEN
        if sent_by_script(request):
            answer = told_to_script(message, code="project-error", status=500)
        else:
            answer = pages.show(ProblemPage(title=title, section="", message=message), status=500)
        answer.headers.update(ANSWER_HEADERS)  # this answer is made outside of the guard, which adds them to all others
        return answer
