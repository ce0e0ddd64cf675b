"""Rows, repositories and transactions. Knows SQLAlchemy; gives and takes only frozen values."""

from server.persistence.library import Library, Work
from server.persistence.records import LoadRecord, RegionRecord, stored

__all__ = ["Library", "LoadRecord", "RegionRecord", "Work", "stored"]
