"""The README and the pages under docs/ against the program.

The demo's output is compared where the demo is run, in test_verbs.py.

``python tests/command/test_readme.py`` writes the demo's output and the pages anew.
"""

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import pytest

from dewledger.case import Case, case_from_text
from dewledger.case.reading.keys import key_tables
from dewledger.interview.answers import Answers
from dewledger.reports.command.app import app
from dewledger.reports.words.reference import PAGES, write_pages

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
OUTPUT = re.compile(r"(<!-- demo output -->\n```text\n).*?(```\n)", re.DOTALL)
ANEW = "run python tests/command/test_readme.py, which writes it anew"


def demo_output():
    """What ``dewledger demo`` prints, progress left out."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "dewledger", "demo"],
            capture_output=True, text=True, check=True, cwd=folder,
        )  # fmt: skip
    return "".join(line.rstrip() + "\n" for line in done.stdout.splitlines())


@pytest.mark.parametrize("name", PAGES)
def test_pages_are_those_of_the_tables(name):
    assert (ROOT / "docs" / name).read_text(encoding="utf-8") == PAGES[name](), ANEW


def test_every_key_is_in_its_table():
    tables = key_tables()
    keys = {key.name for key in tables["top"].keys} | {p for p in tables if "." not in p}
    assert keys - {"top"} == set(Case.model_fields)
    for table in tables.values():
        assert table.meaning
        for key in table.keys:
            assert key.meaning, (table.place, key.name)
            assert key.write, (table.place, key.name)


def test_case_in_the_docs_can_be_read():
    text = (ROOT / "docs" / "case.md").read_text(encoding="utf-8")
    (block,) = re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
    case = case_from_text(block, ".", "docs/case.md")
    assert case.option_cases()


@pytest.mark.parametrize("ending", ["dewledger demo", "pytest"])
def test_set_up_is_one_line(ending):
    lines = README.read_text(encoding="utf-8").splitlines()
    found = [line for line in lines if re.fullmatch(rf"python3 -m venv .*{ending}", line)]
    assert len(found) == 1


def test_the_readme_is_short_and_names_pages_that_are_there():
    text = README.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 275
    for page in re.findall(r"docs/[\w.-]+\.md", text):
        assert (ROOT / page).is_file(), page


def test_the_readme_names_every_verb():
    text = README.read_text(encoding="utf-8")
    for command in app.registered_commands:
        name = command.name or command.callback.__name__
        assert f"`dewledger {name}" in text, name


def test_answers_in_the_docs_make_a_case(tmp_path):
    text = (ROOT / "docs" / "files.md").read_text(encoding="utf-8")
    block = re.search(r"## Answers of `new`.*?```toml\n(.*?)```", text, re.DOTALL)[1]
    answers = Answers(tmp_path)
    answers.answer_all(tomllib.loads(block))
    assert [option.key for option in answers.case().option_cases()] == ["today", "condenser", "gas"]


def main():
    """Write the parts of README and docs that come from the program."""
    write_pages(ROOT / "docs")
    text = OUTPUT.sub(
        lambda match: match[1] + demo_output() + match[2], README.read_text(encoding="utf-8")
    )
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
