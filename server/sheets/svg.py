"""The few SVG elements our pictures are made of, and their inks. Every text and attribute is escaped here, so no caller can forget.

Knows nothing of routes or beacons.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from server.sheets.words import plain_line

# One dark ink, two accents, warm papers. Every use of colour is doubled by a pattern and a word.
INK = "#2b2622"
SOFT = "#6a6158"
HAIR = "#b9ae9f"
PAPER = "#f7f2e6"
BRICK = "#8f3f2b"
SLATE = "#38536b"
SEA = "#dde4e6"
GROUND = "#cbb48e"

FONT = "'Libertinus Serif', Georgia, 'Times New Roman', serif"
MONO = "'DejaVu Sans Mono', monospace"


def number(value: float) -> str:
    """Write a coordinate to a hundredth of a drawing unit."""
    written = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if written in ("-0", "") else written


def element(name: str, *children: str, **attributes) -> str:
    """Write an element. Underscores in attribute names stand for hyphens, a trailing one is dropped (``class_``); None is left out."""
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(number(value) if isinstance(value, float) else plain_line(str(value)))}"
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{written}>{''.join(children)}</{name}>" if children else f"<{name}{written}/>"


def group(*children: str, **attributes) -> str:
    return element("g", *children, **attributes) if children else ""


def moved(at: tuple[float, float], drawing: str) -> str:
    """Move a drawing made round the origin to a place."""
    return group(drawing, transform=f"translate({at[0]:.2f} {at[1]:.2f})")


def line(x1: float, y1: float, x2: float, y2: float, **attributes) -> str:
    return element("line", x1=float(x1), y1=float(y1), x2=float(x2), y2=float(y2), **attributes)


def path(points: Iterable[tuple[float, float]], *, closed: bool = False, **attributes) -> str:
    """Write a line through points."""
    steps = " L".join(f"{number(x)},{number(y)}" for x, y in points)
    return element("path", d=f"M{steps}{' Z' if closed else ''}", **attributes)


def text(words: str, x: float, y: float, *, size: float = 13.0, halo: float = 0.0, fill: str = INK, **attributes) -> str:
    """Write a line of text; with a halo of paper, this many units wide, where it stands on a drawing.

    The halo is a text of its own under the words: in a PDF each glyph is painted by itself, and its halo would eat the glyph before it.
    """
    written = escape(plain_line(words))
    placed = {"x": float(x), "y": float(y), "font_size": float(size), **attributes}
    if not halo:
        return element("text", written, fill=fill, **placed)
    outline = {"fill": PAPER, "stroke": PAPER, "stroke_width": halo, "stroke_linejoin": "round", "aria_hidden": "true", "class_": "halo"}
    return element("text", written, **{**placed, **outline}) + element("text", written, fill=fill, **placed)


def hatch(pattern_id: str, *, ink: str = HAIR) -> str:
    """Define diagonal hatching: the sign of ground that is not known."""
    stroke = line(0, 0, 0, 8, stroke=ink, stroke_width=1.1)
    return element("pattern", stroke, id=pattern_id, width=8, height=8, patternUnits="userSpaceOnUse", patternTransform="rotate(45)")


def picture(*children: str, width: float, height: float, title: str, description: str, name: str, **told: str) -> str:
    """Write a whole drawing that a screen reader announces by its title and description. ``name`` makes its ids unique on a page,
    ``told`` are further attributes."""
    return element(
        "svg",
        element("title", escape(plain_line(title)) or " ", id=f"{name}-title"),
        element("desc", escape(plain_line(description)) or " ", id=f"{name}-desc"),
        element("rect", width=float(width), height=float(height), fill=PAPER),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="img",
        class_=f"drawing {name}",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family=FONT,
        font_size=13,
        font_variant="tabular-nums lining-nums",
        **told,
    )
