"""The rooms of the package and the one way in which they may import each other."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import NamedTuple

import pytest

PACKAGE = Path(str(files("wbplan")))

# The packages in the one order of imports: each may import itself and what stands before it.
ORDER = (
    *("core", "light", "exposure", "camera", "sky", "codes"),
    *("scene", "lut", "planning", "mixed", "description", "day"),
    *("read", "record", "report", "front"),
)
PHYSICS = ORDER[: ORDER.index("codes") + 1]
SLOW_TO_IMPORT = {"colour", "scipy", "PyOpenColorIO", "imageio", "pvlib", "pandas"}
# What the physics has no business with: files, clocks, chance without a seed, the terminal.
IMPURE = {
    *("json", "pathlib", "os", "io", "sys", "shutil", "tempfile", "glob", "subprocess"),
    *("time", "random", "secrets", "uuid", "logging", "argparse", "yaml", "jinja2"),
}
# These two read tables that ship with the package, as constants; nothing else in physics reads.
READS_PACKAGE_DATA = {"core.tables", "codes.encodings"}


class Import(NamedTuple):
    """One imported module, and whether it happens when the importing module is loaded."""

    name: str
    line: int
    at_load: bool
    for_types: bool


def name_module(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 1 else parts)


MODULES = {name_module(path): path for path in sorted(PACKAGE.rglob("*.py"))}


def name_package(module: str) -> str:
    return module.split(".")[0]


def is_for_types(test: ast.expr) -> bool:
    return ast.unparse(test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING")


def walk(node: ast.AST, at_load: bool, for_types: bool) -> Iterator[tuple[ast.stmt, bool, bool]]:
    """Give each import statement below a node, with where it stands."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            yield child, at_load, for_types
        elif isinstance(child, ast.If) and is_for_types(child.test):
            yield from walk(child, False, True)
        else:
            inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            yield from walk(child, at_load and not inside, for_types)


def read_imports(module: str) -> list[Import]:
    """List what a module imports; a module of this package by its name below ``wbplan``."""
    path = MODULES[module]
    package = ["wbplan", *path.relative_to(PACKAGE).parts[:-1]]
    found: list[Import] = []
    for node, at_load, for_types in walk(ast.parse(path.read_text("utf-8")), True, False):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            origin = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                inner = f"{origin}.{alias.name}"
                below = inner.removeprefix("wbplan.")
                names.append(inner if inner != below and below in MODULES else origin)
        for name in dict.fromkeys(names):
            ours = "__init__" if name == "wbplan" else name.removeprefix("wbplan.")
            is_ours = name == "wbplan" or name.startswith("wbplan.")
            found.append(Import(ours if is_ours else name, node.lineno, at_load, for_types))
            assert not is_ours or ours in MODULES, f"{module}:{node.lineno}: {name} is not there"
    return found


IMPORTS = {module: read_imports(module) for module in MODULES}
IN_PHYSICS = [
    name for name in MODULES if name_package(name) in PHYSICS and name_package(name) != "core"
] + ["core.tables", "core.intervals"]


def test_the_walk_finds_what_is_there() -> None:
    """The checks below would pass on nothing at all."""
    there = {"light.spectrum", "report.base.words", "data.make_spectra", "__init__"}
    assert there <= set(MODULES)
    assert "core.tables" in {each.name for each in IMPORTS["light.spectrum"] if each.at_load}
    found = {each.name for each in IMPORTS["light.spectrum"] if not each.at_load}
    assert "scipy.interpolate" in found
    assert "light.colorimetry" in {each.name for each in IMPORTS["data.make_spectra"]}
    assert len(IN_PHYSICS) > 25


def test_every_package_is_in_the_order() -> None:
    packages = {name_package(name) for name in MODULES} - {"__init__", "__main__", "data"}
    assert packages == set(ORDER), f"say in {Path(__file__).name} where a package belongs"


def test_each_package_says_what_is_in_it() -> None:
    for package in ORDER:
        text = ast.get_docstring(ast.parse(MODULES[package].read_text("utf-8"))) or ""
        assert len(text) > 150, f"{package} opens without a word on what is in it"
        assert "mports" in text, f"{package} does not say what it may import"


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_one_way(module: str) -> None:
    mine = name_package(module)
    for each in IMPORTS[module]:
        other = name_package(each.name)
        if each.name not in MODULES or mine in ("__init__", "__main__", "data"):
            continue  # the package's face, the command line's door, and makers run by hand
        assert not each.name.startswith("data."), f"{module}:{each.line} imports a maker"
        if other in ORDER:
            ahead = ORDER.index(other) > ORDER.index(mine)
            assert not ahead, f"{module}:{each.line} imports {each.name}, which stands above it"


def test_no_module_imports_itself_in_a_circle() -> None:
    ahead = {
        module: {each.name for each in found if each.at_load and each.name in MODULES}
        for module, found in IMPORTS.items()
    }
    while ahead:
        free = {module for module, names in ahead.items() if not names & set(ahead)}
        assert free, f"a circle among {', '.join(sorted(ahead))}"
        ahead = {module: names for module, names in ahead.items() if module not in free}


@pytest.mark.parametrize("module", MODULES)
def test_slow_libraries_are_imported_where_they_are_used(module: str) -> None:
    for each in IMPORTS[module]:
        if each.at_load:
            assert each.name.split(".")[0] not in SLOW_TO_IMPORT, f"{module}:{each.line}"


@pytest.mark.parametrize("module", IN_PHYSICS)
def test_physics_is_pure(module: str) -> None:
    if module in READS_PACKAGE_DATA or module.startswith("data"):
        return
    for each in IMPORTS[module]:
        assert each.name.split(".")[0] not in IMPURE, f"{module}:{each.line} imports {each.name}"
        assert each.name != "importlib.resources", f"{module}:{each.line} reads package data"
    for node in ast.walk(ast.parse(MODULES[module].read_text("utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in ("open", "print", "input"), f"{module}:{node.lineno}"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            looks_at_clock = node.func.attr in ("now", "today", "utcnow")
            assert not looks_at_clock, f"{module}:{node.lineno} reads a clock"
        if isinstance(node, ast.Global):
            pytest.fail(f"{module}:{node.lineno} has a global")


def test_loading_everything_loads_no_slow_library() -> None:
    """What the statements promise, seen from outside: a fresh interpreter loads every module."""
    loaded = [
        f"wbplan.{name}" if name != "__init__" else "wbplan"
        for name in MODULES
        if name not in ("__main__",) and not name.startswith("data.")
    ]
    code = (
        "import importlib, sys\n"
        f"for name in {loaded!r}: importlib.import_module(name)\n"
        f"print(sorted({SLOW_TO_IMPORT!r} & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_every_package_is_on_the_map() -> None:
    # The map of DEVELOPERS.md; only a checkout has it.
    path = Path(__file__).parent.parent / "DEVELOPERS.md"
    if not path.is_file():
        pytest.skip("no DEVELOPERS.md beside the tests")
    named = re.findall(r"^\| `([a-z_]+)` \|", path.read_text(encoding="utf-8"), re.M)
    assert tuple(named) == ORDER
