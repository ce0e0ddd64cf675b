"""Forms, pages and their addresses. HTTP ends here: below this layer nobody knows a status, a field name or a template."""

from server.web.build import build_pages

__all__ = ["build_pages"]
