"""The families of errors a user may see.

Each error carries a stable ``code``, a ``message`` in the user's words and, where it helps, the ``place`` it speaks of (a form field,
a row, a leg). No HTTP status here: the web layer has one table for that.
"""

from __future__ import annotations

from dataclasses import dataclass


class ProjectError(Exception):
    """Base of every error meant for a user's eyes."""

    code = "project-error"

    def __init__(self, message: str, *, code: str | None = None, place: str = ""):
        super().__init__(message)
        self.message = message
        self.place = place
        if code is not None:
            self.code = code


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong with an input: where, and what to do about it."""

    place: str
    message: str
    code: str = "input"


class InputProblem(ProjectError):
    """What the user gave cannot be used; all problems are reported at once."""

    code = "input-problem"

    def __init__(
        self,
        message: str,
        *,
        code: str | None = None,
        place: str = "",
        problems: tuple[Problem, ...] = (),
    ):
        super().__init__(message, code=code, place=place)
        self.problems = problems or (Problem(place=place, message=message, code=self.code),)


class NotFound(ProjectError):
    """The thing asked for is not in the database."""

    code = "not-found"


class NotAllowed(ProjectError):
    """The person may not do this."""

    code = "not-allowed"


class Conflict(ProjectError):
    """The action would break something that depends on the present state."""

    code = "conflict"


class OutOfRange(ProjectError):
    """A value lies outside the range in which a formula or a table holds."""

    code = "out-of-range"


class NoHeadingHoldsTrack(OutOfRange):
    """The crosswind exceeds the airspeed, or the headwind leaves no groundspeed."""

    code = "no-heading-holds-track"


class TerrainMissing(ProjectError):
    """An answer needs ground that no loaded tile covers."""

    code = "terrain-missing"
