"""Refrigeration cycles; names of refrigerants."""

import numpy as np
import pytest

from dewledger.components.refrigerant_cycle import cycle, liquid_cooling_gain, tabled_cycle
from dewledger.components.refrigerants import REFRIGERANTS, refrigerant_named
from dewledger.weather.errors import InputError


def test_mixture_in_its_failing_bands() -> None:
    """R-454B between 55 and 65 C: neighboring states keep everything in one line."""
    condensing = np.arange(54.0, 65.1, 0.25)
    found = [cycle("R-454B", 7.2, float(at)) for at in condensing]
    cop = np.array([one.cop for one in found])
    pressure = np.log([one.condensing_pressure_Pa for one in found])
    glide = np.array([one.condensing_dew_C - one.condensing_bubble_C for one in found])
    assert np.abs(np.diff(cop, n=2)).max() < 2e-3
    assert np.abs(np.diff(pressure, n=2)).max() < 2e-5
    assert np.abs(np.diff(glide, n=2)).max() < 2e-3
    assert ((glide > 0.5) & (glide < 1.6)).all()


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_cycle_closes(name: str) -> None:
    one = cycle(name, 7.2, 48.9, 5.6, 5.6, 0.7)
    assert one.rejection_ratio == pytest.approx(1.0 + 1.0 / one.cop, rel=1e-9)
    shares = one.desuperheating_share + one.condensing_share + one.subcooling_share
    assert shares == pytest.approx(1.0, rel=1e-9)
    h1, h2, h3, h4 = one.enthalpies_J_kg
    assert h3 == h4
    assert one.flow_kg_s_W * (h1 - h4) == pytest.approx(1.0)
    assert one.discharge_temp_C > cycle(name, 7.2, 48.9, 5.6, 5.6, 1.0).discharge_temp_C
    assert h2 > h1


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_the_gain_of_a_subcooling_coil_is_that_of_two_cycles(name: str) -> None:
    """Source: CoolProp's liquid at both ends of 20 K, by ``cycle``; off the table's points."""
    for suction, condensing in ((7.2, 32.0), (-3.1, 46.0), (11.7, 60.0), (31.0, 47.0)):
        plain = cycle(name, suction, condensing, 6.0, 4.0)
        colder = cycle(name, suction, condensing, 6.0, 24.0)
        expected = (plain.flow_kg_s_W / colder.flow_kg_s_W - 1.0) / 20.0
        found = liquid_cooling_gain(name, suction, condensing, 6.0, 4.0)
        assert found == pytest.approx(expected, rel=1e-6)


def test_names() -> None:
    assert refrigerant_named("r410a").name == "R-410A"
    with pytest.raises(InputError, match="write one of R-410A"):
        refrigerant_named("water")


@pytest.mark.parametrize("condensing_F", np.arange(133.0, 148.1, 0.5))
def test_mixture_cycle_where_the_library_has_no_solution(condensing_F: float) -> None:
    """R-454B fails in bands near 135 to 145 F: the cycle goes on smoothly through them."""
    found = cycle("R-454B", 7.0, (condensing_F - 32.0) / 1.8)
    near = [cycle("R-454B", 7.0, (condensing_F + d - 32.0) / 1.8).cop for d in (-3.0, 3.0)]
    assert near[1] < found.cop < near[0]
    assert found.cop == pytest.approx(sum(near) / 2.0, rel=0.005)


@pytest.mark.parametrize("name", list(REFRIGERANTS))
def test_a_cycle_between_the_points_of_the_table_is_coolprops(name: str) -> None:
    """Source: CoolProp's states at each place, by ``cycle``; on the table's points and off them."""
    spots = [(-20.0, 20.0), (7.2, 48.9), (2.55, 35.56), (-4.2, 60.0), (12.43, 64.9), (-29.0, 10.2)]
    for suction, condensing in spots:
        for isentropic in (1.0, 0.71):
            exact = cycle(name, suction, condensing, isentropic=isentropic)
            found = tabled_cycle(name, suction, condensing, isentropic=isentropic)
            pressures = ("suction_pressure_Pa", "condensing_pressure_Pa", "cop", "flow_kg_s_W")
            for part in pressures:
                assert getattr(found, part) == pytest.approx(getattr(exact, part), rel=1e-6)
            assert found.enthalpies_J_kg == pytest.approx(exact.enthalpies_J_kg, abs=0.1)
            assert found.discharge_temp_C == pytest.approx(exact.discharge_temp_C, abs=0.02)
            for part in ("suction_temp_C", "condensing_bubble_C", "liquid_temp_C"):
                assert getattr(found, part) == pytest.approx(getattr(exact, part), abs=1e-4)
            for part in ("desuperheating_share", "condensing_share", "subcooling_share"):
                assert getattr(found, part) == pytest.approx(getattr(exact, part), abs=1e-4)


@pytest.mark.parametrize("at", [(-30.5, 40.0), (30.5, 45.0), (5.0, 9.0), (5.0, 65.5)])
def test_a_cycle_beyond_the_table_is_coolprops_itself(at: tuple[float, float]) -> None:
    assert tabled_cycle("R-22", *at) == cycle("R-22", *at)
    hot = tabled_cycle("R-32", -25.0, 60.0, isentropic=0.5)
    assert hot == cycle("R-32", -25.0, 60.0, isentropic=0.5)
