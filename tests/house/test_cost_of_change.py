"""What a change costs, in files: the figures of DEVELOPERS.md, held to the sources.

A word that stands as a text of its own in a source file is a place that a change of it must visit.
"""

import ast
import re
from pathlib import Path

import pytest

from dewledger.data.reheat_codes import known_codes
from dewledger.hourly.ledger import COLUMNS
from dewledger.reports.command.steps import FORMATS
from dewledger.reports.files import writer
from dewledger.weather.files import formats

ROOT = Path(__file__).parents[2]
# What offers sources of reheat to choose from, and does not decide what they do.
OFFERS = ("estimator/interview/", "reports/live/")


def places():
    found = {}
    for folder in ("estimator", "weather", "reports"):
        for path in (ROOT / folder).rglob("*.py"):
            name = path.relative_to(ROOT).as_posix()
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    found.setdefault(node.value, set()).add(name)
    return found


PLACES = places()


@pytest.mark.parametrize("edition", sorted({e for all_ in known_codes().values() for e in all_}))
def test_a_code_edition_is_one_file_of_data(edition):
    # The one edition in code is the one that is assumed where a case states none.
    allowed = {"estimator/analysis/compliance.py"}
    if edition == "commercial":
        # A form of the cycling loss goes by that word too.
        allowed |= {"estimator/case/unit.py", "estimator/assembly/reheat.py"}
    assert PLACES.get(edition, set()) <= allowed


def test_a_weather_format_is_one_file():
    for form in formats.FORMATS:
        others = PLACES[form.name] - {"weather/files/formats.py"}
        assert others <= {"weather/files/rows.py"}, (form.name, others)


@pytest.mark.parametrize("column", [column.name for column in COLUMNS])
def test_a_ledger_column_is_the_table_and_the_row(column):
    inside = {name for name in PLACES[column] if name.startswith("estimator/hourly/")}
    assert inside == {"estimator/hourly/ledger.py"}


def test_one_file_writes_the_row():
    """The places of columns are taken from the table in one file; sizes may be in more."""
    sizes = {"NAMES", "SHORT_NAMES", "COIL_NAMES", "BLOCK_HOURS"}
    writers = [
        path.name
        for path in (ROOT / "estimator" / "hourly").glob("*.py")
        if path.name != "ledger.py"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom)
        and (node.module or "").startswith("dewledger.hourly")
        and (
            (node.module == "dewledger.hourly.ledger" and {n.name for n in node.names} - sizes)
            or any(n.name == "ledger" for n in node.names)
        )
    ]
    assert writers == ["ledger_row.py"]


def test_an_end_use_is_the_table_alone():
    """An end use that no text names outside the table shows that none needs to be."""
    for use in ("humidification", "room cooling", "energy recovery device"):
        assert use in {column.end_use for column in COLUMNS}
        assert PLACES[use] == {"estimator/hourly/ledger.py"}


@pytest.mark.parametrize("source", ["hot water", "subcooling", "wrap-around"])
def test_a_reheat_source_is_named_in_four_files_at_most(source):
    assert len({name for name in PLACES[source] if not name.startswith(OFFERS)}) <= 4


def test_an_output_format_is_two_files():
    """Its writer and its name; the help of the command is made of the names."""
    assert set(FORMATS) == set(writer._WRITERS)
    for name in ("display.csv", "docx", "parquet", "xlsx"):
        assert PLACES[name] <= {"reports/command/steps.py", "reports/files/writer.py"}
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(re.search(rf"\b{re.escape(name)}\b", readme) for name in FORMATS)


def test_the_files_that_developers_md_names_are_there():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(
        re.findall(
            r"\b(?:estimator|weather|reports|tests|docs)/[\w./-]+\.(?:py|toml|md|csv)\b", text
        )
    )
    missing = {name for name in named if not (ROOT / name).is_file()}
    assert not missing, missing
