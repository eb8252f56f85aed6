"""The terminal's comparison: 100 columns, readable without colour and when piped."""

import io
import re

from rich.console import Console

from reports.comparison import BY_KEY, answer
from reports.numbers import figure
from reports.terminal import comparison


def printed(study, **kwargs):
    out = io.StringIO()
    comparison(study, Console(file=out, highlight=False, **kwargs))
    return out.getvalue()


def test_it_fits_100_columns_and_has_no_escape_when_piped(study):
    text = printed(study, width=100)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 100
    assert "\x1b" not in text
    assert "…" not in text


def test_every_option_stands_in_a_line_with_its_figures(study):
    lines = printed(study, width=100).splitlines()
    display = study.case.display
    for option in study.options:
        key = "electricity_kWh"
        shown = figure(option.annual[key], BY_KEY[key].kind, display)
        word = option.title.split()[0]
        assert [line for line in lines if line.startswith(word) and shown in line]


def test_the_reference_is_marked_in_words(study):
    marked = [line for line in printed(study, width=100).splitlines() if line.endswith("ref.")]
    assert [line for line in marked if study.reference.title.split()[0] in line]


def test_two_sentences_of_answer_stand_above(study):
    flat = re.sub(r"\s+", " ", printed(study, width=100))
    for sentence in answer(study, study.case.display)[:2]:
        assert sentence in flat
    assert flat.startswith("Option")


def test_colour_changes_no_word(study):
    coloured = printed(study, width=100, force_terminal=True, color_system="truecolor")
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert bare == printed(study, width=100)
