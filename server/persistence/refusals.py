"""What the database refuses, in the user's words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError, TimeoutError

from server.errors import Conflict, ProjectError


@contextmanager
def refusals_in_words() -> Iterator[None]:
    """Turn what the database driver raises inside the block into an error meant for a user."""
    try:
        yield
    except TimeoutError as refusal:
        raise _busy() from refusal
    except IntegrityError as refusal:
        raise _broken_rule(str(refusal.orig)) from refusal
    except DBAPIError as refusal:
        raise _unusable(str(refusal.orig)) from refusal


def _busy() -> Conflict:
    return Conflict("The database is busy with someone else's change. Nothing was saved. Try again in a moment.", code="database-busy")


def _broken_rule(reason: str) -> ProjectError:
    if "begun_route" in reason and "foreign" not in reason.lower():
        return Conflict("This was sent before, and is kept already. Open the page again.", code="key-twice")
    if "external_key" in reason:
        return Conflict("Two entries of one region carry the same key of the source they came from. Keep one of them.", code="key-twice")
    if "slug" in reason and "slug_given" not in reason:
        return Conflict("There is already a region with this short name. Choose another short name.", code="slug-taken")
    if "foreign key" in reason.lower():
        return Conflict(
            "Something this depends on is no longer in the database, or something still depends on what was to be removed. "
            "Open the page again and repeat the change.",
            code="dependency",
        )
    return Conflict(f"The database refused the change: {reason.splitlines()[0]}", code="rule-broken")


def _unusable(reason: str) -> ProjectError:
    first_line = (reason.splitlines() or ["no reason given"])[0]
    if "locked" in first_line:
        return _busy()
    return ProjectError(
        f"The database cannot be used: {first_line}. Check that BEACONRY_HOME or BEACONRY_DATABASE_URL is right, "
        "that the database is running and that there is room on the disk.",
        code="database-unusable",
    )
