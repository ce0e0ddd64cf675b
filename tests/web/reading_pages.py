"""Reads pages as a browser without scripts does: titles, forms with what stands in them, words."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@dataclass
class Form:
    """A form: where and how it is sent, the fields it would send, and its buttons by their words."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    buttons: dict[str, tuple[str, str]] = field(default_factory=dict)


@dataclass
class PageRead(HTMLParser):
    """One page, read."""

    html: str
    title: str = ""
    words: str = ""
    forms: list[Form] = field(default_factory=list)
    labelled: set[str] = field(default_factory=set)
    named_fields: list[tuple[str, str]] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    scripts: list[str] = field(default_factory=list)

    def __post_init__(self):
        super().__init__()
        self._open: list[str] = []
        self._select = self._area = ""
        self._button: tuple[str, str] | None = None
        self._texts: list[str] = []
        self.feed(self.html)
        self.words = " ".join(" ".join(self._texts).split())

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag not in VOID:
            self._open.append(tag)
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "label" and "for" in given:
            self.labelled.add(given["for"])
        if tag == "script":
            self.scripts.append(given.get("src", ""))
        if tag == "form":
            self.forms.append(Form(action=given.get("action", ""), method=given.get("method", "get")))
        if tag in ("input", "select", "textarea") and given.get("type") != "hidden":
            wrapped = "within its label" if "label" in self._open else ""
            self.named_fields.append((given.get("id", ""), given.get("aria-label", "") or wrapped))
        if not self.forms:
            return
        form = self.forms[-1]
        if tag == "input":
            ticked = given.get("type") != "checkbox" or "checked" in given
            if given.get("name") and ticked and given.get("type") != "file":
                form.fields[given["name"]] = given.get("value", "")
        elif tag == "select" and "name" in given:
            self._select = given["name"]
            form.fields[self._select] = ""
        elif tag == "option" and self._select and "selected" in given:
            form.fields[self._select] = given["value"]
        elif tag == "textarea":
            self._area = given["name"]
            form.fields[self._area] = ""
        elif tag == "button":
            self._button = (given.get("name", ""), given.get("value", ""))
            form.buttons[given.get("aria-label", "")] = self._button

    def handle_endtag(self, tag):
        if tag in self._open:
            while self._open and self._open.pop() != tag:
                pass
        if tag == "select":
            self._select = ""
        if tag == "textarea":
            self._area = ""
        if tag == "button":
            self._button = None

    def handle_data(self, text):
        if "title" in self._open and "head" in self._open:
            self.title += text
        if self._area:
            self.forms[-1].fields[self._area] += text
        if self._button is not None and text.strip() and self.forms:
            self.forms[-1].buttons[text.strip()] = self._button
        if "body" in self._open:
            self._texts.append(text)

    def form(self, action: str) -> Form:
        """The form that is sent to this address."""
        return next(form for form in self.forms if form.action == action)


def read(response) -> PageRead:
    """Read an answer as a page."""
    return PageRead(response.text)
