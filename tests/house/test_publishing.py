"""What is published: the wheel's contents, the source distribution's, versions that agree."""

import json
import re
import subprocess
import tomllib
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
# Folder of the checkout -> folder of the package.
PLACES = {"estimator": "dewledger", "weather": "dewledger/weather", "reports": "dewledger/reports"}


def tracked(*folders):
    done = subprocess.run(
        ["git", "ls-files", *folders], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        pytest.skip("not a checkout of the project's repository")
    return done.stdout.split()


def installed():
    """Files of the installed package, where it was installed as others install it."""
    distribution = metadata.distribution("dewledger")
    origin = json.loads(distribution.read_text("direct_url.json") or "{}")
    if origin.get("dir_info", {}).get("editable"):
        pytest.skip("an editable install: .ci/pythons looks at a real one")
    return {str(path) for path in distribution.files or []}


def test_the_wheel_holds_one_package_and_all_of_it():
    files = installed()
    tops = {name.split("/")[0] for name in files if not name.startswith("..")}
    assert {name for name in tops if not name.endswith(".dist-info")} == {"dewledger"}
    wanted = {
        "/".join((PLACES[top], *rest))
        for name in tracked(*PLACES)
        for top, *rest in [name.split("/")]
    }
    assert wanted <= files, sorted(wanted - files)
    more = {name for name in files - wanted if name.startswith("dewledger/")}
    assert all("__pycache__" in name for name in more), sorted(more)


def test_every_data_file_is_named_for_the_wheel():
    """The same without an install: each file that is no Python is matched by package-data."""
    patterns = PROJECT["tool"]["setuptools"]["package-data"]
    for name in tracked(*PLACES):
        if name.endswith(".py"):
            continue
        top, *rest = name.split("/")
        place = Path("/".join((PLACES[top], *rest)))
        assert any(
            place.match(f"{package.replace('.', '/')}/{pattern}")
            for package, globs in patterns.items()
            for pattern in globs
        ), f"{name} would not be in the wheel"


def test_the_source_distribution_takes_tests_and_docs():
    lines = (ROOT / "MANIFEST.in").read_text(encoding="utf-8").splitlines()
    grafted = {line.split()[1] for line in lines if line.startswith("graft ")}
    assert {"tests", "docs", ".ci"} <= grafted
    for line in lines:
        if line.startswith("include "):
            for name in line.split()[1:]:
                assert (ROOT / name).exists(), name


def test_versions_and_names_agree():
    version = PROJECT["project"]["version"]
    citation = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert f"\nversion: {version}\n" in citation
    assert f"\n## {version}\n" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    assert PROJECT["project"]["authors"][0]["name"] in citation


def test_the_readme_renders_on_an_index():
    """An index shows the README alone: no picture and no link that needs the checkout."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    targets = re.findall(r"\]\(([^)]+)\)|<img[^>]+src=\"([^\"]+)\"", text)
    for target in (one or other for one, other in targets):
        assert re.match(r"https?://|#", target), target


def test_every_lowest_version_is_stated():
    wanted = [*PROJECT["project"]["dependencies"]]
    for extra in PROJECT["project"]["optional-dependencies"].values():
        wanted += extra
    for requirement in wanted:
        assert re.match(r"[\w.-]+(\[[\w,-]+\])?(>=|==)\d", requirement), requirement


def test_every_dependency_has_its_reason():
    """A line of DEVELOPERS.md for each library that is installed with the program or its tests."""
    project = PROJECT["project"]
    groups = [project["dependencies"], *project["optional-dependencies"].values()]
    names = {re.split(r"[<>=~! ]", one)[0] for group in groups for one in group}
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Dependencies")[2].partition("\n## ")[0]
    listed = {name for row in table.splitlines() for name in re.findall(r"[A-Za-z][\w-]+", row)}
    assert names <= listed, names - listed


def test_every_requirement_has_a_tested_version():
    """The lock of .ci/tested-versions.txt names each, within the bounds that are stated."""
    wanted = [*PROJECT["project"]["dependencies"]]
    wanted += PROJECT["project"]["optional-dependencies"]["test"]
    lines = (ROOT / ".ci/tested-versions.txt").read_text(encoding="utf-8").splitlines()
    pins: dict[str, list[str]] = {}
    for line in lines:
        if not line.startswith("#"):
            pin = Requirement(line)
            (only,) = pin.specifier
            pins.setdefault(canonicalize_name(pin.name), []).append(only.version)
    for stated in map(Requirement, wanted):
        found = pins.get(canonicalize_name(stated.name))
        assert found, f"{stated} is not in .ci/tested-versions.txt"
        assert all(stated.specifier.contains(version) for version in found), stated
