"""The bundled demo, run once for all tests of the reports."""

import pytest

from estimator.case import bundled_case
from estimator.study import run_study


@pytest.fixture(scope="session")
def study():
    return run_study(bundled_case("music-school"))
