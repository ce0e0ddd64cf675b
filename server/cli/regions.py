"""The commands about a whole region: check it, write it as one file."""

from __future__ import annotations

import argparse
import contextlib
import os
import tempfile
from typing import TYPE_CHECKING

from server.cli.opening import opened
from server.errors import InputProblem
from server.settings import Settings

if TYPE_CHECKING:  # imported where they are used: "beaconry --help" should not wait for them
    from server.planning.region_check import CheckedRegion


def check(asked: argparse.Namespace, settings: Settings) -> int:
    from server.planning.region_check import checked_region

    with opened(settings) as (library, store):
        checked = checked_region(library, store, asked.region)
    print("\n".join(check_lines(checked)))
    return 0


def check_lines(checked: CheckedRegion) -> list[str]:
    """The check in lines: groups with their counts, worst first, then what is not checked, then the sum."""
    from server.planning.region_check import NOT_CHECKED
    from server.planning.region_findings import TITLE_OF_CODE, FindingLevel

    lines = []
    for (level, code), findings in checked.groups().items():
        lines.append(f"{level.upper()}  {TITLE_OF_CODE[code]}: {len(findings)}")
        for finding in findings:
            lines.append(f"  {finding.subject.label}: {finding.words} {finding.what_to_do}")
            users = ", ".join(route.name for route in checked.users(finding))
            if users:
                lines.append(f"    used by: {users}")
        lines.append("")
    lines += ["NOT CHECKED", *(f"  {what}" for what in NOT_CHECKED), ""]
    held = f"{checked.beacons} beacons, {checked.airfields} airfields, {checked.checkpoints} checkpoints"
    found = f"{checked.count(FindingLevel.WARNING)} warnings, {checked.count(FindingLevel.ADVICE)} of advice"
    lines.append(f"{checked.region.name}, {checked.on.isoformat()}: {held}; {found}.")
    return lines


def export(asked: argparse.Namespace, settings: Settings) -> int:
    """Write beside the file first, so that a refusal or a full disk leaves no half file under its name."""
    from server.planning.region_export import export_region

    target = asked.file
    try:
        with opened(settings) as (library, store), _beside(target) as (part, stream):
            exported = export_region(library, store, asked.region, stream)
            stream.flush()
            os.fsync(stream.fileno())
            os.replace(part, target)
    except OSError as error:
        raise InputProblem(f"{target} cannot be written: {error.strerror}.", code="file-unwritable", place="FILE") from error
    members = exported.manifest.members
    print(f"{exported.region.name} is in {target}: {len(members)} members, {sum(member.size_bytes for member in members) / 1e6:.1f} MB.")
    print(f"Load it elsewhere with: beaconry load region {target.name}")
    return 0


@contextlib.contextmanager
def _beside(target):
    """A file to write into beside the target; removed unless it was moved to the target's name."""
    number, part = tempfile.mkstemp(prefix=".beaconry-", dir=target.parent)
    try:
        os.fchmod(number, 0o666 & ~_umask())
        with os.fdopen(number, "wb") as stream:
            yield part, stream
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(part)


def _umask() -> int:
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
