"""The command line: serve the pages, load data, list what is there, plan a flight and print its log.

Words for people only; the work is in planning. Every refusal is told on standard error, one line each, and the exit code is 2.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence

from server.cli.arguments import parser_of_commands
from server.errors import InputProblem, ProjectError
from server.settings import Settings

__all__ = ["main"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 2 refused with a reason."""
    parser = parser_of_commands()
    asked = parser.parse_args(arguments)
    command: Callable[[argparse.Namespace, Settings], int] | None = getattr(asked, "command", None)
    if command is None:
        parser.print_help()
        return 2
    try:
        code = command(asked, Settings.from_environment())
        sys.stdout.flush()  # so that a reader who has gone away is noticed here
        return code
    except InputProblem as problem:
        for each in problem.problems:
            place = f"{each.place}: " if each.place not in each.message else ""  # many a message begins with its place
            print(f"beaconry: {place}{each.message}", file=sys.stderr)
        return 2
    except ProjectError as problem:
        print(f"beaconry: {problem.message}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
