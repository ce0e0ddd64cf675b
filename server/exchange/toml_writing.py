"""Write values as TOML that server.exchange.toml_fields reads back without loss. Values of None are left out: absent is "not known"."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

_WIDEST = 140
"""Characters in a line; a longer list is written with one entry in each line."""


def toml_lines(values: Mapping[str, Any]) -> str:
    """Write ``name = value`` lines. A value is text, a number, yes or no, a moment, a table, or a list of these."""
    return "".join(f"{name} = {_list_in_lines(name, value)}\n" for name, value in values.items() if value is not None)


def toml_tables(name: str, tables: Iterable[Mapping[str, Any]]) -> bytes:
    """Write one ``[[name]]`` after another."""
    return "\n".join(f"[[{name}]]\n{toml_lines(table)}" for table in tables).encode("utf-8")


def _list_in_lines(name: str, value: Any) -> str:
    written = _value(value)
    if not isinstance(value, list | tuple) or len(name) + len(written) + 3 <= _WIDEST:
        return written
    return "[\n" + "".join(f"    {_value(entry)},\n" for entry in value) + "]"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, StrEnum | str):
        return _text(str(value))
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{name} = {_value(entry)}" for name, entry in value.items() if entry is not None) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(entry) for entry in value) + "]"
    return str(int(value)) if value == int(value) and abs(value) < 1e15 else repr(float(value))


def _text(text: str) -> str:
    """A basic string. JSON escapes the same characters in the same way, but for DEL, which TOML does not allow bare."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")
