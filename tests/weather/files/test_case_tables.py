"""CSV files that a case names: read as text, each mistake one sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.weather.errors import InputError
from dewledger.weather.files.case_tables import numbers_of, read_csv_table


def table_of(folder, text, comments=True):
    path = folder / "x.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_csv_table(path, "x.csv", "path", comments)


def test_cells_are_text_and_lines_are_counted_as_an_editor_does(tmp_path):
    table = table_of(tmp_path, "\ufeff# made today, by hand\na, b\r\n\r\n1,x\r\n ,,\r\nNA,\n2\n")
    assert list(table.columns) == ["a", "b"]
    assert table.to_numpy().tolist() == [["1", "x"], ["NA", ""], ["2", ""]]
    assert list(table.index) == [4, 6, 7]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty"),
        ("\n , \n", "is empty"),
        ("a,b\n1,2\n1,5,2\n", r"x.csv, line 3 has more values than the first line has names \(2\)"),
        (b"a,b\n\xff,1\n", "not a CSV in UTF-8"),
    ],
)
def test_one_sentence_each(tmp_path, text, says):
    with pytest.raises(InputError, match=says):
        table_of(tmp_path, text)


def test_a_path_that_leads_nowhere(tmp_path):
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(InputError, match=r'^path ".*" cannot be read'):
            read_csv_table(path, "x.csv", "path")
    with pytest.raises(InputError, match="device or a pipe"):
        read_csv_table(type(tmp_path)("/dev/null"), "x.csv", "path")


@pytest.mark.parametrize("cell", ["", "x", "nan", "inf", "1_000", "1,5", "0x10", "1 2"])
def test_what_is_no_finite_number_is_found(tmp_path, cell):
    table = table_of(tmp_path, f'a,b\n1,u\n"{cell}",v\n')
    assert numbers_of(table["a"])[1] == 1


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1, max_size=5))
def test_numbers_come_back(tmp_path_factory, values):
    text = "a\n" + "\n".join(repr(value) for value in values)
    found, wrong = numbers_of(table_of(tmp_path_factory.mktemp("n"), text)["a"])
    assert wrong is None
    assert found.tolist() == values
