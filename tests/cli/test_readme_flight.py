"""The README walks through one flight; what it quotes of the log must be what the program prints."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

from server.cli import main

ROOT = Path(__file__).parents[2]


def test_the_leg_quoted_in_the_readme_is_the_leg_the_program_prints(tmp_path, monkeypatch, capfdbinary):
    monkeypatch.setenv("BEACONRY_HOME", str(tmp_path))
    assert main(["load", "region", str(ROOT / "sample_region")]) == 0
    capfdbinary.readouterr()
    assert main(["log", "1"]) == 0
    printed = capfdbinary.readouterr().out.decode()
    quoted = re.search(r"```text\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL).group(1)
    assert quoted.startswith("LEG 2") and len(quoted.splitlines()) > 20
    assert quoted in printed


def test_the_flight_the_readme_plans_from_the_command_line_has_a_chain(tmp_path, monkeypatch, capfdbinary):
    monkeypatch.setenv("BEACONRY_HOME", str(tmp_path))
    assert main(["load", "region", str(ROOT / "sample_region")]) == 0
    command = re.search(r"\.venv/bin/beaconry (plan .*?)\n```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL).group(1)
    assert main(shlex.split(command.replace("\\\n", " "))) == 0
    assert b"Data      All data given" in capfdbinary.readouterr().out
