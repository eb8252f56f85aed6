"""What no table of a case can check alone: values that must fit each other."""

from __future__ import annotations

from dewledger.case.air import FLOW_BY_LOAD
from dewledger.case.ranges import ends_of
from dewledger.case.tables import Tables
from dewledger.case.words import written
from dewledger.weather.errors import InputError


def check_outdoor_air_unit(case: Tables) -> None:
    """InputError where an outdoor-air unit meets what belongs to a unit that serves a room."""
    if case.outdoor_air_unit is None:
        return
    air = case.air
    by_room = case.outdoor_air_unit.by_room_humidity
    if case.humidity.control != "none" and not by_room:
        raise InputError(
            "[humidity] control cannot be combined with [outdoor_air_unit], which holds a supply "
            "dew point; "
            'write control = "none", or by_room_humidity = true'
        )
    if by_room and case.humidity.control == "none":
        raise InputError(
            "[outdoor_air_unit] by_room_humidity needs a limit to follow; write for example "
            '[humidity] control = "relative humidity" with limit = "55 %"'
        )
    if by_room and case.humidity.priority == "humidity first":
        raise InputError(
            '[humidity] priority = "humidity first" does not reach an [outdoor_air_unit], whose '
            "room is cooled and heated separately; leave it out"
        )
    if air.fan != "continuous" or air.fan_unoccupied == "cycling":
        raise InputError(
            '[outdoor_air_unit] needs a continuous fan; write fan = "continuous", and '
            'fan_unoccupied "continuous" or "off"'
        )
    if air.economizer is not None:
        raise InputError(
            "[air.economizer] cannot be used with [outdoor_air_unit], which brings its outdoor "
            "air at a supply temperature of its own; leave it out, and write by_room_need = true"
        )
    if air.flow_control == "two-speed":
        raise InputError(
            'flow_control = "two-speed" cannot be used with [outdoor_air_unit]; write "variable", '
            "whose flow follows the outdoor air"
        )
    for name in FLOW_BY_LOAD:
        if name in air.model_fields_set:
            raise InputError(
                f"[air] {name} has no effect with [outdoor_air_unit], whose supply air has set "
                "points of its own; leave it out"
            )


def check_ranges(case: Tables) -> None:
    """InputError where the set point's range is not of the quantity that is limited."""
    if case.ranges.set_point is None:
        return
    limited = case.humidity.control
    if limited == "none" and case.outdoor_air_unit is not None:
        limited = "dew point"
    difference = ends_of(case.ranges.set_point)[0].kind.name == "temperature difference"
    if limited == "none" or difference == (limited == "dew point"):
        return
    example = '["-2 degF", "2 degF"]' if limited == "dew point" else '["-3 %", "3 %"]'
    raise InputError(
        f"[ranges] set_point is no range of the {limited} that is limited; write for example "
        f"{example}"
    )


def check_envelope(case: Tables) -> None:
    """InputError unless the case gives a plain conductance or an envelope."""
    if case.envelope is None:
        if case.room.conductance is None:
            raise InputError(
                "[room] conductance is missing; write for example "
                'conductance = "900 Btu/h/degF", or an [envelope]'
            )
        return
    for name in ("conductance", "heat_capacity", "heat_capacity_per_area"):
        if name in case.room.model_fields_set:
            raise InputError(f"[room] {name} and [envelope] are both given; keep the one meant")


def check_ventilation(case: Tables) -> None:
    """InputError where outdoor air by people has no people, or is more than the supply air."""
    air = case.air
    if air.outdoor_per_person is not None and case.loads.people is None:
        raise InputError(
            "[air] outdoor_per_person is given, yet nobody is in; write [loads.people]"
        )
    most = design_outdoor_flow(case)
    if most <= least_supply_share(case) * float(air.supply_flow):
        return
    if air.outdoor_per_person is None and air.outdoor_per_area is None:
        raise InputError(
            f'[air] outdoor_flow "{written(air.outdoor_flow)}" is above the supply flow at '
            f'minimum_flow "{written(air.minimum_flow)}"; raise minimum_flow or lower outdoor_flow'
        )
    raise InputError(
        f"[air] people and area require {most / 0.000471947:.0f} cfm of outdoor air, more than "
        "the least supply flow; raise supply_flow or minimum_flow, or lower the rates"
    )


def least_supply_share(case: Tables) -> float:
    """Least supply flow over the full one, as far as outdoor air is bound by it: the flow of an
    outdoor-air unit follows its outdoor air."""
    if case.air.flow_control == "constant" or case.outdoor_air_unit is not None:
        return 1.0
    return float(case.air.minimum_flow)


def area_infiltration(case: Tables) -> float | None:
    """Infiltration stated by an area [m3/s], at a profile value of 1; None where it is not."""
    room = case.room
    if room.infiltration_per_area is None:
        return None
    area = room.infiltration_area
    if area is None and case.envelope is not None:
        area = case.envelope.wall_area
    if area is None:
        raise InputError(
            "[room] infiltration_per_area has no area; write for example "
            'infiltration_area = "2500 ft2"'
        )
    return float(room.infiltration_per_area) * float(area)


def design_outdoor_flow(case: Tables) -> float:
    """Outdoor air [m3/s] at full ventilation: stated, or by people and area (as in ASHRAE 62.1)."""
    air = case.air
    if air.outdoor_per_person is None and air.outdoor_per_area is None:
        return float(air.outdoor_flow)
    floor = float(case.room.floor_area)
    flow = float(air.outdoor_per_area or 0.0) * floor
    if air.outdoor_per_person is not None and case.loads.people is not None:
        flow += float(air.outdoor_per_person) * case.loads.people.number(floor)
    return flow


def check_humidifier(case: Tables) -> None:
    """InputError where the humidifier's limit does not stay below the drying limit."""
    if case.humidifier is None:
        return
    humidity = case.humidity
    dew_point = humidity.control == "dew point"
    if dew_point and case.humidifier.limit is None:
        raise InputError(
            '[humidifier] limit is missing where control = "dew point"; write for example "40 degF"'
        )
    for occupied in (True, False):
        low = humidifier_limit(case, occupied)
        if humidity.control == "none":
            continue
        high = humidity.limit_value
        if not occupied and humidity.limit_unoccupied_value is not None:
            high = humidity.limit_unoccupied_value
        if low >= high:
            raise InputError(
                "[humidifier] its limit is not below the drying limit of [humidity]"
                f"{'' if occupied else ' in unoccupied hours'}; leave a band between them, for "
                "example 5 %"
            )


def humidifier_limit(case: Tables, occupied: bool) -> float:
    """The humidifier's limit, a fraction or a dew point [C] as [humidity] control says."""
    humidifier = case.humidifier
    assert humidifier is not None
    dew_point = case.humidity.control == "dew point"
    text = humidifier.limit
    place = "limit"
    if not occupied and humidifier.limit_unoccupied is not None:
        text, place = humidifier.limit_unoccupied, "limit_unoccupied"
    if text is None:
        return float(case.humidity.range_low)
    return float(humidifier.value(text, dew_point, place))
