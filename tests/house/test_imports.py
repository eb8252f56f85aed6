"""The arrows between the rooms: imports run downward, in no circle, and two rooms never meet.

The order of the rooms is the architecture; it is stated here once and held against every import
statement of the product, wherever in a file it stands.
"""

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = {
    "estimator": "dewledger",
    "weather": "dewledger.weather",
    "reports": "dewledger.reports",
}

# From the ground up. A room may import from any room on a lower line, and within itself.
FLOORS = (
    {"weather.errors"},
    {"weather.numerics"},
    {"weather.physics"},
    {"weather.bundled"},
    {"weather.files", "weather.asking"},
    {"weather.climate", "weather.remote"},
    {"quantities"},
    {"components"},
    {"dx_unit"},
    {"data"},
    {"case", "hourly"},
    {"assembly"},
    {"accounts"},
    {"codes"},
    {"analysis"},
    {"study"},
    {"interview"},
    {"views", "published"},
    {"reports.words"},
    {"reports.charts"},
    {"reports.diagrams"},
    {"reports.page"},
    {"reports.handover"},
    {"reports.terminal"},
    {"reports.files"},
    {"reports.live"},
    {"reports.command"},
    {""},  # the package's own __init__ and __main__: the roof
)
FLOOR = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
MOST_FILES = 16


def sources():
    for folder in FOLDERS:
        yield from sorted((ROOT / folder).rglob("*.py"))


def module_of(path):
    """Name of a source file as it is imported."""
    folder, *inner = path.relative_to(ROOT).with_suffix("").parts
    parts = [FOLDERS[folder], *inner]
    if parts[-1] == "__init__":
        parts.pop()
    return ".".join(parts)


MODULES = {module_of(path): path for path in sources()}


def room_of(module):
    """The room of a module: weather and reports by their inner room, the rest by the first.

    A weather year derives its humidity and its sunshine, so it shares the room of the physics.
    """
    if module == "dewledger.weather.year":
        return "weather.physics"
    parts = module.split(".")[1:]
    if not parts or parts == ["__main__"]:
        return ""
    if parts[0] in ("weather", "reports"):
        return ".".join(parts[:2])
    return parts[0]


def imports_of(path):
    """Modules of the product that a file imports, with the line."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: a relative import"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            if name.split(".")[0] == "dewledger":
                while name not in MODULES:
                    name = name.rpartition(".")[0]
                yield name, node.lineno


ARROWS = [
    (module, target, line) for module, path in MODULES.items() for target, line in imports_of(path)
]


def test_every_room_stands_on_a_floor():
    rooms = {room_of(module) for module in MODULES}
    assert rooms - {"weather", "reports"} <= set(FLOOR), rooms - set(FLOOR)


def test_no_arrow_runs_upward():
    wrong = [
        f"{module}:{line} imports {target}"
        for module, target, line in ARROWS
        if room_of(module) != room_of(target) and FLOOR[room_of(module)] <= FLOOR[room_of(target)]
    ]
    assert not wrong, "\n".join(wrong)


def test_no_circle_of_files():
    targets = {}
    for module, target, _ in ARROWS:
        targets.setdefault(module, set()).add(target)
    state = {}

    def visit(module, trail):
        state[module] = "open"
        for target in sorted(targets.get(module, ())):
            if target == module:
                continue
            if state.get(target) == "open":
                pytest.fail(" -> ".join([*trail[trail.index(target) :], target]))
            if target not in state:
                visit(target, [*trail, target])
        state[module] = "done"

    for module in MODULES:
        if module not in state:
            visit(module, [module])


def test_no_room_is_too_full():
    for folder in {path.parent for path in MODULES.values()}:
        files = [path for path in folder.glob("*.py") if path.name != "__init__.py"]
        assert len(files) <= MOST_FILES, f"{folder} holds {len(files)} files"


def test_packages_are_those_of_the_folders():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]
    packages = {module_of(path) for path in sources() if path.name == "__init__.py"}
    data = set(settings["setuptools"]["package-data"])
    assert set(settings["setuptools"]["packages"]) == packages | data
    assert settings["setuptools"]["package-dir"] == {v: k for k, v in FOLDERS.items()}
