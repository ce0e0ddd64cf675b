"""What all repositories share: add, change, find and remove values that have a number. None of them commits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, ClassVar, Generic, TypeVar

from sqlalchemy import ColumnElement, Connection, Row, Select, Table, delete, func, insert, select, update

from server.errors import NotFound
from server.persistence.storable import GREATEST_INTEGER, check_storable

Value = TypeVar("Value")
PartRow = tuple[Table, dict[str, Any]]


class Repository(Generic[Value]):
    """Values of one kind in one table, their parts in others.

    A subclass names the table, the parts it owns directly (parts of parts vanish with them) and the user's word for the thing, and says
    how a value becomes columns and part rows, and how rows become values. Every read takes the same number of queries, however many
    values it finds.
    """

    table: ClassVar[Table]
    part_tables: ClassVar[tuple[Table, ...]] = ()
    word: ClassVar[str]

    def __init__(self, connection: Connection):
        self._connection = connection

    # What a subclass says.

    def _columns(self, value: Value) -> dict[str, Any]:
        raise NotImplementedError

    def _part_rows(self, number: int, value: Value) -> Iterator[PartRow]:
        """Yield the rows of the parts of a value, owners before what they own."""
        return iter(())

    def _values(self, rows: Sequence[Row], chosen: Select) -> Iterator[Value]:
        """Make values of rows; ``chosen`` selects their numbers, for reading the parts."""
        raise NotImplementedError

    def _order(self) -> tuple[ColumnElement, ...]:
        raise NotImplementedError

    # What callers use.

    def add(self, value: Value) -> Value:
        """Add a value and return it with its number."""
        return self.add_many((value,))[0]

    def add_many(self, values: Iterable[Value]) -> tuple[Value, ...]:
        """Add values, the parts of all of them in one statement for each table, and return them with their numbers."""
        given = tuple(values)
        if not given:
            return ()
        for value in given:
            check_storable(value)
        statement = insert(self.table).returning(self.table.c.id, sort_by_parameter_order=True)
        numbers = self._connection.scalars(statement, [self._columns(value) for value in given]).all()
        self._add_parts(zip(numbers, given, strict=True))
        return tuple(replace(value, id=number) for number, value in zip(numbers, given, strict=True))  # type: ignore[type-var]

    def update(self, value: Value) -> Value:
        """Put a value in the place of the one with the same number."""
        check_storable(value)
        number = self._number(value)
        changed = self._connection.execute(update(self.table).where(*self._same(value)).values(**self._columns(value)))
        if changed.rowcount == 0:
            raise self._missing(number)
        for part in self.part_tables:
            self._connection.execute(delete(part).where(_owner_column(part) == number))
        self._add_parts(((number, value),))
        return value

    def lock(self, number: int) -> None:
        """Wait until no other transaction is changing the value with this number, and keep them waiting until this one ends."""
        self._connection.execute(select(self.table.c.id).where(self.table.c.id == number).with_for_update())

    def get(self, number: int) -> Value:
        """Return the value with this number, or raise NotFound."""
        found = self._find(self.table.c.id == number) if 0 < number <= GREATEST_INTEGER else ()
        if not found:
            raise self._missing(number)
        return found[0]

    def remove(self, number: int) -> None:
        """Remove the value with this number and its parts, or raise NotFound."""
        self.get(number)
        self._connection.execute(delete(self.table).where(self.table.c.id == number))

    # How.

    def _same(self, value: Value) -> tuple[ColumnElement[bool], ...]:
        return (self.table.c.id == self._number(value),)

    def _number(self, value: Value) -> int:
        number = value.id  # type: ignore[attr-defined]
        if number is None:
            raise NotFound(f"This {self.word} has not been added to the database yet, so it cannot be changed there.")
        return number

    def _missing(self, number: int) -> NotFound:
        return NotFound(f"There is no {self.word} with number {number} in the database. It may have been removed.")

    def _add_parts(self, numbered: Iterable[tuple[int, Value]]) -> None:
        rows: dict[Table, list[dict[str, Any]]] = {}
        for number, value in numbered:
            for table, row in self._part_rows(number, value):
                rows.setdefault(table, []).append(row)
        for table in sorted(rows, key=_depth):
            self._connection.execute(insert(table), rows[table])

    def _find(self, *conditions: ColumnElement[bool], limit: int | None = None, offset: int = 0) -> tuple[Value, ...]:
        chosen = select(self.table.c.id).where(*conditions)
        whole = select(self.table).where(*conditions).order_by(*self._order())
        if limit is not None or offset:
            chosen = chosen.order_by(*self._order()).limit(limit).offset(offset)
            whole = whole.limit(limit).offset(offset)
        return tuple(self._values(self._connection.execute(whole).all(), chosen))

    def _count(self, *conditions: ColumnElement[bool]) -> int:
        return self._connection.scalar(select(func.count()).select_from(self.table).where(*conditions)) or 0

    def _parts(self, part: Table, chosen: Select, make: Callable[[Row], Any]) -> dict[Any, tuple]:
        """Read the parts of the chosen values in one query: owner's key -> its parts in order."""
        owner = tuple(part.primary_key.columns)[:-1]
        rows = self._connection.execute(select(part).where(owner[0].in_(chosen)).order_by(*part.primary_key.columns))
        found: dict[Any, list] = {}
        width = len(owner)
        for row in rows:
            found.setdefault(row[0] if width == 1 else tuple(row[:width]), []).append(make(row))
        return {key: tuple(parts) for key, parts in found.items()}


def _owner_column(part: Table) -> ColumnElement:
    return next(iter(part.primary_key.columns))


def _depth(part: Table) -> int:
    """How deep a part lies: the longer its key, the later it is added."""
    return len(part.primary_key.columns)
