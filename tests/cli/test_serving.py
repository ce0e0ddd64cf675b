"""beaconry serve: it says where it is, answers, and stops when told to."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from server.settings import PROJECT_ROOT
from tests.cli.conftest import Run


def test_it_prints_its_address_answers_there_and_stops_on_ctrl_c(furnished: Path):
    serving = subprocess.Popen(
        [sys.executable, "-m", "server.cli", "serve"],
        cwd=PROJECT_ROOT,
        env={**os.environ, "BEACONRY_PORT": "0"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        line = serving.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+/", line)
        assert address, f"{line!r} {serving.stderr.read() if serving.poll() is not None else ''}"
        with urllib.request.urlopen(f"{address[0]}healthz") as answer:
            assert answer.status == 200
        serving.send_signal(signal.SIGINT)
        _, err = serving.communicate(timeout=60)
    finally:
        serving.kill()
        serving.wait()
    assert (serving.returncode, err) == (0, "")


def test_a_port_in_use_is_named_in_one_line(run: Run):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        refusal = run("serve", "--port", port).refusal
    assert f"Port {port} cannot be used" in refusal and "Choose another with --port or BEACONRY_PORT." in refusal


@pytest.mark.parametrize("port", ["-1", "65536"])
def test_a_port_that_does_not_exist_is_refused(run: Run, port: str):
    assert f"Port {port} does not exist: give 1 to 65535, or 0 for a free one." in run("serve", "--port", port).refusal
