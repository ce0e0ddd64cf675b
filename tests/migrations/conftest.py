"""Databases without tables, of each kind."""

from tests.databases import empty_url, open_library, postgres

__all__ = ["empty_url", "open_library", "postgres"]
