"""A small case to sweep: two options on a bundled station, first costs stated."""

import pytest

from dewledger.case.files import case_from_text

TEXT = """
format = 2
title = "Hall <small> & dry"
[site]
weather = "greensboro"
[room]
floor_area = "3000 ft2"
height = "12 ft"
conductance = "600 Btu/h/degF"
cooling_setpoint = "75 degF"
heating_setpoint = "70 degF"
[loads]
room_kind = "assembly"
[air]
supply_flow = "3000 cfm"
outdoor_flow = "500 cfm"
fan_power = "1100 W"
[unit]
total_capacity = "7.5 ton"
sensible_heat_ratio = "72 %"
efficiency = "11.2 EER"
[humidity]
control = "relative humidity"
limit = "52 %"
range_high = "58 %"
[prices]
electricity = "0.12 USD/kWh"
gas = "1.05 USD/therm"
[options.electric]
title = "Electric reheat"
reheat = [{ source = "electric", capacity = "20 kW" }]
cost = { first_cost = "4000 USD" }
[options.condenser]
title = "Condenser heat"
reheat = [{ source = "condenser", effectiveness = "60 %" }]
cost = { first_cost = "9000 USD" }
"""


@pytest.fixture(scope="session")
def hall(tmp_path_factory):
    """The case, its folder empty."""
    return case_from_text(TEXT, tmp_path_factory.mktemp("hall"))


@pytest.fixture(scope="session")
def hall_text():
    return TEXT
