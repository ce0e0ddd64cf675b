"""What a reader gives back: the rows it took, the rows it refused and why, and what a person should look at.

A reader never stops at one bad row and never drops one in silence: taken plus refused is every row of the file.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from server.errors import ProjectError


@dataclass(frozen=True, kw_only=True, slots=True)
class RefusedRow:
    """A row that was not taken. ``line_number`` is the line an editor shows where the row starts; ``key`` is the row's external key."""

    line_number: int
    key: str
    reason: str
    code: str


@dataclass(frozen=True, kw_only=True, slots=True)
class RowWarning:
    """A row that was taken although something about it wants a person's eye."""

    line_number: int
    key: str
    message: str
    code: str


@dataclass(frozen=True, kw_only=True)
class Reading:
    """The whole of one file. ``rows`` are frozen values in the order of the file, ``line_numbers`` the lines they start at.

    ``sources`` are the prefixes of external keys (up to the first colon) for which the file is the complete list: what the library holds
    under one of them and the file no longer names has gone.
    """

    format_name: str
    rows: tuple = ()
    line_numbers: tuple[int, ...] = ()
    refused: tuple[RefusedRow, ...] = ()
    warnings: tuple[RowWarning, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def row_count(self) -> int:
        return len(self.rows) + len(self.refused)

    def refused_by_code(self) -> Counter[str]:
        return Counter(row.code for row in self.refused)

    def warnings_by_code(self) -> Counter[str]:
        return Counter(warning.code for warning in self.warnings)


class RowProblem(ProjectError):
    """Why one row cannot be taken; the readers turn it into a RefusedRow."""

    code = "row-refused"


@dataclass
class Findings:
    """Collects the warnings of one row while it is read."""

    line_number: int
    key: str = ""
    warnings: list[RowWarning] = field(default_factory=list)

    def warn(self, code: str, message: str) -> None:
        self.warnings.append(RowWarning(line_number=self.line_number, key=self.key, message=message, code=code))
