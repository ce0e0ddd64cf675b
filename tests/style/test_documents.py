"""The documents keep up with the code: settings, error codes, notes, and the README's first commands."""

from __future__ import annotations

import ast
import re
from pathlib import Path

from server.settings import PROJECT_ROOT, Settings

DEVELOPERS = PROJECT_ROOT / "DEVELOPERS.md"
README = PROJECT_ROOT / "README.md"


TELL_A_CODE_FIRST = {"planning": ("_note", "warning", "advice"), "exchange": ("warn",)}
"""Functions, by package, whose first argument is a code."""


def section(title: str) -> str:
    """The text of one section of the developers' page, without its subsections' end."""
    found = re.search(rf"^## (?:\d+\. )?{re.escape(title)}\n(.*?)(?=^## |\Z)", DEVELOPERS.read_text(encoding="utf-8"), re.M | re.S)
    assert found, f"DEVELOPERS.md has no section called {title}"
    return found[1]


def documented_codes() -> set[str]:
    return set(re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)*", section("Error codes")))


def codes_in(file: Path) -> set[str]:
    """Every code a file gives: ``code="..."``, the ``code`` of an error class, the first word of a note or a warning."""
    found: set[str] = set()
    tell_a_code = TELL_A_CODE_FIRST.get(file.parent.name, ())
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.keyword) and node.arg == "code":
            found |= texts_in(node.value)
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "code":
            found |= texts_in(node.value)
        if isinstance(node, ast.Call) and node.args and ast.unparse(node.func).split(".")[-1] in tell_a_code:
            found |= texts_in(node.args[0])
    return found


def texts_in(node: ast.expr) -> set[str]:
    """The texts an expression may be; one put together while running has none."""
    if isinstance(node, ast.IfExp):
        return texts_in(node.body) | texts_in(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def test_every_setting_is_named():
    text = DEVELOPERS.read_text(encoding="utf-8")
    settings = [f"BEACONRY_{name.upper()}" for name in Settings.model_fields]
    assert len(settings) >= 3
    assert [name for name in settings if f"`{name}`" not in text] == []


def test_every_code_is_named():
    used = {code for file in sorted((PROJECT_ROOT / "server").rglob("*.py")) for code in codes_in(file)}
    assert used >= {"not-found", "no-wind", "altitude", "ident-normalised"}  # one from each kind of place
    assert sorted(used - documented_codes()) == []


GIVE_NOTES = ("notes.py", "profile_notes.py", "air_notes.py", "interference.py", "ndb_notes.py", "diversion.py", "sun_times.py")


def test_no_note_is_named_that_nothing_gives():
    planning = PROJECT_ROOT / "server" / "planning"
    given = {code for name in GIVE_NOTES for code in codes_in(planning / name)}
    line = re.search(r"\*Notes of a log\*:(.*?)\.\n", section("Error codes"), re.S)
    assert line, "DEVELOPERS.md does not list the notes of a log"
    assert sorted(set(re.findall(r"[a-z]+(?:-[a-z]+)+", line[1])) - given) == []


def test_the_readme_opens_with_one_paragraph():
    blocks = [block for block in README.read_text(encoding="utf-8").split("\n\n") if block.strip()]
    assert re.fullmatch(r"# Beaconry\n*", blocks[0])
    assert re.match(r"[A-Z]", blocks[1]) and len(blocks[1].split()) > 30  # the job, in prose
    assert blocks[2].startswith("## ")


def test_the_first_two_commands_of_the_readme_make_and_use_the_environment_in_the_checkout():
    blocks = re.findall(r"^```sh\n(.*?)^```$", README.read_text(encoding="utf-8"), re.M | re.S)
    for block in blocks[:2]:
        assert "python3 -m venv .venv" in block and ".venv/bin/" in block
    assert "beaconry serve" in blocks[0]
    assert "pytest" in blocks[1]


def test_every_command_of_the_readme_is_one_there_is():
    blocks = re.findall(r"^```sh\n(.*?)^```$", README.read_text(encoding="utf-8"), re.M | re.S)
    words = set(re.findall(r"\bbeaconry ([a-z]+)", "\n".join(blocks)))
    assert "serve" in words and words <= {"serve", "load", "list", "plan", "log"}
