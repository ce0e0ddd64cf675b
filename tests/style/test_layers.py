"""Imports point one way, the core knows only arithmetic, and importing a module has no effect."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.settings import PROJECT_ROOT

SERVER = PROJECT_ROOT / "server"
CORE_MAY_IMPORT = {
    *("__future__", "math", "dataclasses", "enum", "typing", "collections.abc", "datetime", "re", "functools", "itertools"),
    *("numpy", "numba", "pyproj", "shapely"),
    *("server.errors", "server.units", "server.navigation", "server.radio"),
}
EXCEPTIONS = {"server/navigation/magnetism.py": {"wmm"}}
"""One package has one place: NOAA's magnetic model."""


def imports_of(file: Path) -> Iterator[tuple[int, str]]:
    """Yield the line and the full name of every module imported anywhere in a file; relative imports are not our way."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}:{node.lineno} imports relatively"
            assert node.module is not None
            for alias in node.names:
                yield node.lineno, f"{node.module}.{alias.name}"


def within(name: str, allowed: set[str]) -> bool:
    return any(name == module or name.startswith(f"{module}.") for module in allowed)


def python_files(*folders: Path) -> list[Path]:
    files = [file for folder in folders for file in sorted(folder.rglob("*.py"))]
    assert files
    return files


def test_the_contracts_of_the_layers_are_kept():
    lint_imports = Path(sys.executable).with_name("lint-imports")
    if not lint_imports.exists():
        pytest.skip("import-linter is not installed beside this Python")
    done = subprocess.run([lint_imports, "--no-cache"], cwd=PROJECT_ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("file", python_files(SERVER / "navigation", SERVER / "radio"), ids=lambda file: f"{file.parent.name}/{file.name}")
def test_the_core_imports_only_arithmetic_and_itself(file: Path):
    allowed = CORE_MAY_IMPORT | EXCEPTIONS.get(file.relative_to(PROJECT_ROOT).as_posix(), set())
    if file.parent.name == "navigation":
        allowed = allowed - {"server.radio"}
    wrong = [f"line {line}: {name}" for line, name in imports_of(file) if not within(name, allowed)]
    assert wrong == []


def test_nobody_imports_the_composition_root():
    wrong = [
        f"{file.relative_to(PROJECT_ROOT)}:{line}"
        for file in python_files(SERVER)
        for line, name in imports_of(file)
        if within(name, {"server.app"})
    ]
    assert wrong == []


def test_only_the_faces_and_the_root_read_the_settings():
    readers = {
        file.relative_to(SERVER).parts[0]
        for file in python_files(SERVER)
        for _, name in imports_of(file)
        if within(name, {"server.settings"})
    }
    assert readers <= {"app.py", "cli"}


def test_every_package_names_what_is_public_and_has_it():
    """Each package has an ``__all__``, and every name in it exists."""
    for package in sorted(folder for folder in SERVER.iterdir() if (folder / "__init__.py").is_file()):
        tree = ast.parse((package / "__init__.py").read_text(encoding="utf-8"))
        listed = [node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"]
        assert len(listed) == 1, f"{package.name} has no __all__"
        names = ast.literal_eval(listed[0].value)
        module = __import__(f"server.{package.name}", fromlist=names)
        assert [name for name in names if not hasattr(module, name)] == []


EVERY_MODULE = """
import importlib, os, pkgutil, sys
before = dict(os.environ)
import server
names = [module.name for module in pkgutil.walk_packages(server.__path__, "server.") if not module.name.endswith(("__main__", *LATE))]
for name in names:
    importlib.import_module(name)
assert len(names) > 100, names
assert dict(os.environ) == before, "an import changed the environment"
assert "numba" not in sys.modules, "numba is loaded when the radio model is first asked"
assert "rasterio" not in sys.modules, "rasterio is loaded when a GeoTIFF is first met"
"""
LATE = ("_kernels", ".geotiff")
"""Ends of the names of modules that load what takes long; others import them inside the function that needs them."""


def test_importing_has_no_effect_and_loads_nothing_slow(tmp_path: Path):
    program = EVERY_MODULE.replace("*LATE", ", ".join(repr(name) for name in LATE))
    environment = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "PYTHONPATH": str(PROJECT_ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run([sys.executable, "-W", "error", "-c", program], env=environment, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert list(tmp_path.iterdir()) == []
