"""Walk a table row by row: each row becomes a value or a refusal, and no key is taken twice."""

from __future__ import annotations

from collections.abc import Callable

from server.errors import InputProblem
from server.exchange.reading import Findings, Reading, RefusedRow, RowProblem, RowWarning
from server.exchange.table import Row, Table

LONGEST_KEY = 200
LONGEST_REASON = 500

OWN_SOURCE = "own"
"""The source of rows of our own tables that name none."""

NEVER_COMPLETE = {"ourairports:", "nasr:", f"{OWN_SOURCE}:"}
"""Sources of which one of our own tables is never the complete list: two have readers of their own, and people keep several tables."""


def read_rows(
    table: Table,
    *,
    format_name: str,
    key_of: Callable[[Row], str],
    key_columns: tuple[str, ...],
    value_of: Callable[[Row, Findings], object],
    sources: tuple[str, ...] | None = None,
) -> Reading:
    """Turn each row into a value by ``value_of``; what it raises becomes a refusal that names the line.

    ``key_columns`` are those ``key_of`` looks at: a damaged row in which they are whole is still known by its key. ``sources`` None means
    those that the keys name and our own tables can be complete lists of.
    """
    values = []
    refused = []
    for row, problem in table.bad_rows:
        key = key_of(row) if set(key_columns) & set(table.columns) <= set(row.cells) else ""
        refused.append(RefusedRow(line_number=row.line_number, key=key, reason=problem.message, code=problem.code))
    warnings: list[RowWarning] = []
    line_of_key: dict[str, int] = {}
    for row in table.rows:
        findings = Findings(row.line_number)
        try:
            findings.key = key_of(row)
            if len(findings.key) > LONGEST_KEY:
                raise RowProblem(f"The key has more than {LONGEST_KEY} characters.", code="text-too-long")
            if findings.key in line_of_key:
                raise RowProblem(
                    f"The key {findings.key[:80]} already stands in line {line_of_key[findings.key]}; that row was taken.", code="key-twice"
                )
            value = value_of(row, findings)
        except (RowProblem, InputProblem) as problem:
            refused.append(
                RefusedRow(line_number=row.line_number, key=findings.key, reason=problem.message[:LONGEST_REASON], code=problem.code)
            )
            continue
        line_of_key[findings.key] = row.line_number
        values.append(value)
        warnings.extend(findings.warnings)
    refused.sort(key=lambda entry: entry.line_number)
    return Reading(
        format_name=format_name,
        rows=tuple(values),
        line_numbers=tuple(line_of_key.values()),
        refused=tuple(refused),
        warnings=tuple(warnings),
        sources=tuple(sorted({source_of_key(key) for key in line_of_key} - NEVER_COMPLETE)) if sources is None else sources,
    )


def read_keyed_rows(
    table: Table,
    *,
    format_name: str,
    key_source: str,
    told_by: Callable[[Row], str],
    key_columns: tuple[str, ...],
    value_of: Callable[[Row, Findings], object],
) -> Reading:
    """Read rows, of which those without a key get one that is made of what they are told by.

    Rows without a key that come to the same one are all refused: to take the first would leave it to their order which thing is meant.
    """

    def key_of(row: Row) -> str:
        key = row.text("key")
        return key if ":" in key else f"{key_source or OWN_SOURCE}:{key or told_by(row)}"

    lines: dict[str, list[int]] = {}
    for row in table.rows:
        if not row.text("key"):
            lines.setdefault(key_of(row), []).append(row.line_number)

    def only_value(row: Row, findings: Findings) -> object:
        value = value_of(row, findings)
        twins = lines.get(findings.key, []) if not row.text("key") else []
        if len(twins) > 1:
            raise RowProblem(
                f"Lines {', '.join(map(str, twins[:10]))}{' and more' if len(twins) > 10 else ''} are told apart by nothing: each is "
                f"{told_by(row)}. If they are different things, give them a key column, with another word in each; else keep one of them.",
                code="key-twice",
            )
        return value

    return read_rows(table, format_name=format_name, key_of=key_of, key_columns=key_columns, value_of=only_value)


def source_of_key(external_key: str) -> str:
    """Return the part of an external key that names its source, the colon included."""
    return external_key.partition(":")[0] + ":"
