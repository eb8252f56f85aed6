"""Columns of numbers as text: Python's own formatting is the judge."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dewledger.reports.files.number_text import fixed_decimals, joined


@given(
    st.lists(st.floats(-1e9, 1e9, allow_nan=False) | st.just(float("nan")), min_size=1),
    st.integers(0, 6),
)
def test_each_number_is_written_as_the_language_writes_it(numbers, decimals):
    rounded = [float(np.round(number, decimals)) + 0.0 for number in numbers]
    expected = "".join(
        f"{'' if number != number else f'{number:.{decimals}f}'}\n" for number in rounded
    )
    assert joined([fixed_decimals(numbers, decimals)]) == expected


@pytest.mark.parametrize(
    ("number", "decimals", "text"),
    [
        (-0.0000001, 4, "0.0000"),
        (0.5, 0, "0"),
        (1.5, 0, "2"),
        (-2.25, 1, "-2.2"),
        (1000.0, 2, "1000.00"),
        (-0.01, 2, "-0.01"),
    ],
)
def test_halves_go_to_even_and_minus_zero_is_zero(number, decimals, text):
    assert joined([fixed_decimals([number], decimals)]) == f"{text}\n"


def test_columns_stand_side_by_side():
    first, second = fixed_decimals([1, 20], 0), fixed_decimals([float("nan"), -0.5], 1)
    assert joined([first, second]) == "1,\n20,-0.5\n"
