"""The unit's balance, its table and its compressor map against independent solutions."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from dewledger.components.refrigerant_tables import (
    compression,
    refrigerant_table,
    volumetric_efficiency,
)
from dewledger.dx_unit.from_compressor_map import (
    CompressorMap,
    read_compressor_map,
    ten_coefficients,
    unit_from_compressor_map,
)
from dewledger.dx_unit.from_rating import unit_from_ratings
from dewledger.dx_unit.from_table import unit_from_table
from dewledger.dx_unit.rating import Circuit, Rating, RatingBasis, RatingCondition
from dewledger.dx_unit.steady_state import (
    compressor_power,
    condensing_without_recovery,
    evaporator_cooling,
    fraction_for_surface,
    outside_map,
    steady_state,
)
from dewledger.dx_unit.types import Unit
from dewledger.weather.errors import InputError
from dewledger.weather.physics.moist_air import (
    enthalpy,
    hum_ratio_from_rel_hum,
    hum_ratio_from_wet_bulb,
    saturation_hum_ratio,
    vapor_enthalpy,
)

P = 101325.0
KBTU_H = 293.0710701722222
CFM = 0.47194745e-3


def rooftop(**changes: object) -> Unit:
    """An invented 7.5 ton rooftop unit."""
    ratings: dict[str, object] = {
        "refrigerant": "R-410A",
        "total_W": 90.0 * KBTU_H,
        "sensible_W": 66.0 * KBTU_H,
        "net": True,
        "efficiency_cop": 11.2 / 3.412142,
        "rated_flow_m3_s": 2800.0 * CFM,
    }
    return unit_from_ratings(**(ratings | changes))  # type: ignore[arg-type]


UNIT = rooftop()


@pytest.mark.parametrize("refrigerant", ["R-410A", "R-32", "R-454B", "R-134a", "R-22"])
def test_rating_point_is_met_exactly(refrigerant: str) -> None:
    unit = rooftop(refrigerant=refrigerant)
    # Net 90 kBtu/h, 365 W per 1000 cfm on 2800 cfm = 1022 W; EER 11.2 means 8035.7 W in all;
    # outdoor fan 70 W per ton of gross capacity.
    gross = 90.0 * KBTU_H + 1022.0
    fan = 70.0 * gross / 3516.8528
    assert unit.rated_total_W == pytest.approx(gross, rel=1e-9)
    assert unit.rated_sensible_W == pytest.approx(66.0 * KBTU_H + 1022.0, rel=1e-9)
    assert unit.rated_compressor_W == pytest.approx(90000.0 / 11.2 - fan - 1022.0, rel=1e-6)
    found = steady_state(
        unit.map,
        1.0,
        unit.rated_temp_in_C,
        unit.rated_hum_ratio_in,
        P,
        unit.rated_flow_kg_s,
        unit.rated_condensing_C,
        0.0,
    )
    total, sensible, power, surface, suction, *_, floor_hit = found
    assert total == pytest.approx(unit.rated_total_W, rel=1e-10)
    assert sensible == pytest.approx(unit.rated_sensible_W, rel=1e-9)
    assert power == pytest.approx(unit.rated_compressor_W, rel=1e-10)
    assert surface == pytest.approx(unit.rated_surface_C, abs=1e-9)
    assert suction == pytest.approx(unit.rated_suction_C, abs=1e-9)
    assert floor_hit == 0
    outdoor = condensing_without_recovery(
        unit.map, unit.rated_outdoor_C, unit.rated_rejected_W, -99.0
    )
    assert outdoor == pytest.approx(unit.rated_condensing_C, abs=1e-9)


def test_assumptions_are_told() -> None:
    reported = " ".join(UNIT.notes)
    for words in ("365 W per 1000 cfm", "70 W per ton", "45 F", "120 F", "clearance"):
        assert words in reported
    assert "365" not in " ".join(rooftop(rated_fan_W=900.0).notes)


@given(
    fraction=st.floats(0.15, 1.0),
    temp=st.floats(12.0, 38.0),
    rel_hum=st.floats(0.05, 0.99),
    flow=st.floats(0.4, 2.5),
    condensing=st.floats(18.0, 62.0),
    start=st.floats(-40.0, 60.0),
)
# A surface of ice and air off it just above freezing: the saturation curve bends between them.
@example(fraction=1.0, temp=12.0, rel_hum=0.84375, flow=1.0, condensing=18.0, start=0.0)
@settings(max_examples=300, deadline=None)
def test_balance_holds_and_closes(
    fraction: float, temp: float, rel_hum: float, flow: float, condensing: float, start: float
) -> None:
    w = hum_ratio_from_rel_hum(temp, rel_hum, P)
    found = steady_state(UNIT.map, fraction, temp, w, P, flow, condensing, start)
    total, sensible, power, surface, suction, temp_out, w_out, floor_hit = found
    assert all(math.isfinite(value) for value in found)
    # Heat taken from the air is the enthalpy difference, split into sensible and latent.
    assert total == pytest.approx(flow * (enthalpy(temp, w) - enthalpy(temp_out, w_out)), rel=1e-9)
    latent = flow * (w - w_out) * vapor_enthalpy(temp)
    assert total == pytest.approx(sensible + latent, rel=1e-9, abs=1e-6)
    assert w - w_out >= -1e-12
    assert w_out <= saturation_hum_ratio(temp_out, P) * (1.0 + 1e-9)
    assert suction == pytest.approx(surface - UNIT.map.surface_resistance_K_W * total, abs=1e-9)
    used, back, back_power = fraction_for_surface(UNIT.map, surface, total, condensing)
    assert back == suction
    assert back_power == pytest.approx(power, rel=1e-10)
    if floor_hit:
        assert surface == UNIT.map.surface_floor_C
        assert used <= fraction * (1.0 + 1e-9)
    else:
        assert surface >= UNIT.map.surface_floor_C
        assert used == pytest.approx(fraction, rel=1e-9)


def test_balance_equals_bisection_on_refrigerant_properties() -> None:
    """The same equations solved by bisection straight from the refrigerant's property splines."""
    unit = rooftop(refrigerant="R-32")
    table = refrigerant_table("R-32", unit.superheat_K, unit.subcooling_K)

    def capacity(suction: float, condensing: float) -> tuple[float, float]:
        state = compression(table, np.array([suction]), np.array([condensing]))
        volume = state.suction_density * volumetric_efficiency(state.pressure_ratio, 0.06, 1.25)
        return float((volume * state.refrigerating_effect)[0]), float(
            (volume * state.isentropic_work)[0]
        )

    rated, rated_ideal = capacity(unit.rated_suction_C, unit.rated_condensing_C)
    for temp, wet, condensing in ((26.0, 18.3, 44.2), (24.0, 20.6, 37.7), (30.3, 17.1, 55.3)):
        w = hum_ratio_from_wet_bulb(temp, wet, P)
        flow = 1.3
        contact = flow * (1.0 - math.exp(-unit.map.bypass_area_kg_s / flow))
        low, high = -20.0, temp
        for _ in range(60):
            surface = 0.5 * (low + high)
            w_surface = min(saturation_hum_ratio(surface, P), w)
            heat = contact * (enthalpy(temp, w) - enthalpy(surface, w_surface))
            suction = surface - unit.map.surface_resistance_K_W * heat
            offered = unit.rated_total_W * capacity(suction, condensing)[0] / rated
            low, high = (surface, high) if heat > offered else (low, surface)
        power = unit.rated_compressor_W * capacity(suction, condensing)[1] / rated_ideal
        found = steady_state(unit.map, 1.0, temp, w, P, flow, condensing, 5.0)
        # The contract of the map: linear interpolation good to 1e-4.
        assert found[0] == pytest.approx(heat, rel=1e-4)
        assert found[2] == pytest.approx(power, rel=1e-4)


def test_capacity_and_power_move_the_right_way() -> None:
    cooling = UNIT.map.cooling_W
    assert (np.diff(cooling, axis=0) > 0.0).all()
    assert (np.diff(cooling, axis=1) < 0.0).all()
    working = np.array(UNIT.map.compressor_W)[60:100]  # suction 0 to 19.5 C
    assert (np.diff(working[:, 50:], axis=1) > 0.0).all()  # condensing from 35 C
    assert (np.array(UNIT.map.compressor_W) > 0.0).all()


def test_dry_coil_capacity_does_not_depend_on_humidity() -> None:
    first = steady_state(UNIT.map, 0.4, 35.0, 0.004, P, 1.5, 45.0, 10.0)
    second = steady_state(UNIT.map, 0.4, 35.0, 0.005, P, 1.5, 45.0, 10.0)
    assert first[6] == 0.004
    assert first[0] == pytest.approx(first[1], rel=1e-12)
    # Only the heat capacity of the vapor differs.
    assert first[0] == pytest.approx(second[0], rel=1e-3)


def test_surface_floor_limits_capacity() -> None:
    w = hum_ratio_from_rel_hum(12.0, 0.5, P)
    free = steady_state(rooftop(surface_floor_C=-20.0).map, 1.0, 12.0, w, P, 1.4, 40.0, 5.0)
    held = steady_state(UNIT.map, 1.0, 12.0, w, P, 1.4, 40.0, 5.0)
    assert free[3] < 0.0
    assert held[3] == 0.0
    assert held[7] == 1
    assert held[0] < free[0]


def test_clamped_and_flagged_outside_map() -> None:
    assert evaporator_cooling(UNIT.map, 5.0, 80.0) == evaporator_cooling(UNIT.map, 5.0, 65.0)
    assert compressor_power(UNIT.map, -50.0, 40.0) == compressor_power(UNIT.map, -30.0, 40.0)
    args = (25.0, 0.01, P, 1.4)
    assert outside_map(UNIT.map, *args, 5.0, 66.0) == 1
    assert outside_map(UNIT.map, *args, 5.0, 45.0) == 0
    assert outside_map(UNIT.map, *args, -31.0, 45.0) == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sensible_W": 95.0 * KBTU_H}, "above its total"),
        ({"sensible_W": 30.0 * KBTU_H}, "nearest possible"),
        ({"efficiency_cop": 100.0}, "too little is left for the compressor"),
        ({"efficiency_cop": None}, "either an efficiency or a compressor power"),
        ({"rated_flow_m3_s": 0.0}, "above zero"),
        ({"rated_flow_m3_s": 0.4}, "impossible"),
        ({"suction_C": 15.0}, "not below the apparatus dew point"),
        ({"condensing_C": 30.0}, "above the outdoor temperature"),
        ({"condensing_C": 80.0}, "out of range"),
        ({"refrigerant": "R-12"}, "write one of"),
        ({"wet_bulb_C": 28.0}, "must be below"),
        ({"clearance": 0.5}, "clearance"),
        ({"superheat_K": 60.0}, "superheat"),
        ({"efficiency_cop": 1.0}, "isentropic"),
        ({"efficiency_cop": 4.8}, "isentropic"),
    ],
)
def test_impossible_ratings_are_one_sentence(changes: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        rooftop(**changes)
    assert "\n" not in str(caught.value)


# A performance table ---------------------------------------------------------------------------


def surrogate(wet: float, dry: float, outdoor: float) -> tuple[float, float, float]:
    """A smooth invented unit: total, sensible, power in W of wet bulb, dry bulb, outdoors in C."""
    e, o, d = wet - 19.4, outdoor - 35.0, dry - 26.7
    total = 8200.0 + 260.0 * e - 85.0 * o
    sensible = 6400.0 - 500.0 * e - 50.0 * o + 460.0 * d
    return total, min(sensible, total), 1860.0 + 19.0 * e + 27.0 * o


def write_table(path: Path, skip: int = -1, flows: tuple[float, ...] = ()) -> Path:
    header = "entering_wet_bulb_C,entering_dry_bulb_C,outdoor_dry_bulb_C,total_W,sensible_W,"
    lines = ["# an invented unit", header + "compressor_power_W" + (",air_flow_L_s" * bool(flows))]
    for wet in (15.0, 17.0, 19.0, 21.0):
        for dry in (22.0, 24.0, 27.0):
            for outdoor in (25.0, 35.0, 45.0):
                total, sensible, power = surrogate(wet, dry, outdoor)
                base = f"{wet},{dry},{outdoor},{total},{sensible},{power}"
                lines += [base + f",{flow}" for flow in flows] if flows else [base]
    if skip >= 0:
        del lines[skip]
    path.write_text("\n".join(lines) + "\n")
    return path


FLOW = 0.425


def tabulated(path: Path, **changes: object) -> Unit:
    return unit_from_table(path, RatingBasis(False, FLOW), RatingCondition(), **changes)  # type: ignore[arg-type]


def test_table_is_reproduced_at_its_nodes(tmp_path: Path) -> None:
    unit = tabulated(write_table(tmp_path / "unit.csv"))
    for wet, dry, outdoor in ((19.0, 27.0, 35.0), (21.0, 27.0, 25.0), (17.0, 22.0, 45.0)):
        total, sensible, power = surrogate(wet, dry, outdoor)
        condensing = outdoor + (total + power) / unit.map.condenser_conductance_W_K
        w = hum_ratio_from_wet_bulb(dry, wet, P)
        args = (dry, w, P, FLOW * 1.204)
        found = steady_state(unit.map, 1.0, *args, condensing, 0.0)
        assert found[0] == pytest.approx(total, rel=1e-7)
        assert found[1] == pytest.approx(sensible, rel=1e-6)
        assert found[2] == pytest.approx(power, rel=1e-7)
        assert math.isnan(found[4])
        assert outside_map(unit.map, *args, math.nan, condensing) == 0
        assert outside_map(unit.map, *args, math.nan, condensing + 30.0) == 1
        assert found[0] == pytest.approx(
            FLOW * 1.204 * (enthalpy(dry, w) - enthalpy(found[5], found[6])), rel=1e-9
        )


def test_dry_limit_of_table(tmp_path: Path) -> None:
    """At 27 C and 35 C the surrogate's two lines cross where 8200 + 260 e = 6538 - 500 e."""
    unit = tabulated(write_table(tmp_path / "unit.csv"))
    e = (6400.0 + 460.0 * 0.3 - 8200.0) / (260.0 + 500.0)
    total = 8200.0 + 260.0 * e
    power = 1860.0 + 19.0 * e
    condensing = 35.0 + (total + power) / unit.map.condenser_conductance_W_K
    for wet in (13.0, 15.0, 16.0, 17.0):
        w = hum_ratio_from_wet_bulb(27.0, wet, P)
        found = steady_state(unit.map, 1.0, 27.0, w, P, FLOW * 1.204, condensing, 0.0)
        assert found[0] == pytest.approx(total, rel=1e-7)
        assert found[1] == pytest.approx(total, rel=1e-7)
        assert found[6] == pytest.approx(w, rel=1e-9)


def test_table_beyond_its_edge_stays_physical(tmp_path: Path) -> None:
    unit = tabulated(write_table(tmp_path / "unit.csv"))
    for temp in (5.0, 12.0, 18.0, 35.0):
        for rel_hum in (0.1, 0.5, 1.0):
            w = hum_ratio_from_rel_hum(temp, rel_hum, P)
            found = steady_state(unit.map, 1.0, temp, w, P, 0.5, 40.0, 0.0)
            assert found[3] >= 0.0
            assert 0.0 <= found[6] <= w + 1e-12
            assert found[6] <= saturation_hum_ratio(found[5], P) * (1.0 + 1e-9)


def test_table_units_and_flow(tmp_path: Path) -> None:
    unit = tabulated(write_table(tmp_path / "unit.csv", flows=(400.0, 500.0)))
    assert unit.map.table_flow_kg_s == pytest.approx([0.4816, 0.602])
    same = unit_from_table(
        write_table(tmp_path / "net.csv"), RatingBasis(True, FLOW, fan_W=230.0), RatingCondition()
    )
    assert same.map.table_total_W.min() == pytest.approx(unit.map.table_total_W.min() + 230.0)
    renamed = tmp_path / "renamed.csv"
    renamed.write_text(write_table(tmp_path / "u.csv").read_text().replace("total_W", "gross"))
    assert tabulated(renamed, columns={"total_W": "gross"}).rated_total_W == pytest.approx(
        unit.rated_total_W
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda text: text.replace("total_W", "capacity"), "no column total_W"),
        (lambda text: text.replace("15.0,22.0,25.0,", "x,22.0,25.0,"), "line 3"),
        (lambda text: text.replace("15.0,22.0,25.0,", "15.0,22.0,25.0,-"), "above zero"),
        (lambda text: "\n".join(text.split("\n")[:-2]), "missing: entering_wet_bulb 21 C"),
        (lambda text: text + text.split("\n")[2] + "\n", "second time"),
        (lambda text: "", "is empty"),
        (lambda text: "\n".join(text.split("\n")[:2]) + "\n", "no rows"),
        (
            lambda text: text.replace(",7906.0,", ",7906,5,"),
            "has more values than the first line has names",
        ),
        (lambda text: text.replace(",7906.0,", ",790.6,"), "above the total"),
    ],
)
def test_faulty_tables_are_one_sentence(tmp_path: Path, change: object, words: str) -> None:
    path = write_table(tmp_path / "unit.csv")
    path.write_text(change(path.read_text()))  # type: ignore[operator]
    with pytest.raises(InputError, match=words) as caught:
        tabulated(path)
    assert "\n" not in str(caught.value)


def test_missing_table(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        tabulated(tmp_path / "none.csv")


# Ten coefficients ------------------------------------------------------------------------------


def regressed(celsius: bool = False) -> CompressorMap:
    """Ten-coefficient fits to the generic compressor of UNIT.

    In F, lb/h and W; or in C, kg/h and W.
    """
    suction, condensing = np.meshgrid(np.linspace(-5, 20, 11), np.linspace(30, 62, 11))
    table = refrigerant_table("R-410A", UNIT.superheat_K, UNIT.subcooling_K)
    effect = compression(table, suction, condensing).refrigerating_effect
    cooling = np.vectorize(lambda s, c: evaporator_cooling(UNIT.map, s, c))(suction, condensing)
    power = np.vectorize(lambda s, c: compressor_power(UNIT.map, s, c))(suction, condensing)
    s, d = (suction * 1.8 + 32).ravel(), (condensing * 1.8 + 32).ravel()
    if celsius:
        s, d = suction.ravel(), condensing.ravel()
    terms = np.column_stack(
        [np.ones_like(s), s, d, s**2, s * d, d**2, s**3, d * s**2, s * d**2, d**3]
    )
    flow = (cooling / effect).ravel() * 3600.0 / (1.0 if celsius else 0.45359237)
    return CompressorMap(
        output_coefficients=np.linalg.lstsq(terms, flow, rcond=None)[0].tolist(),
        output_unit="kg/h" if celsius else "lb/h",
        power_coefficients=np.linalg.lstsq(terms, power.ravel(), rcond=None)[0].tolist(),
        temperature_unit="C" if celsius else "F",
        suction_range_C=(-5.0, 20.0),
        condensing_range_C=(30.0, 62.0),
        superheat_K=UNIT.superheat_K,
        subcooling_K=UNIT.subcooling_K,
    )


RATING = Rating(90.0 * KBTU_H, 66.0 * KBTU_H, RatingBasis(net=True, flow_m3_s=2800.0 * CFM))
CIRCUIT = Circuit("R-410A")


@pytest.mark.parametrize("celsius", [False, True])
def test_regression_of_generic_compressor_gives_the_same_unit(celsius: bool) -> None:
    unit = unit_from_compressor_map(regressed(celsius), RATING, CIRCUIT)
    for suction in np.linspace(-5.0, 20.0, 11):
        for condensing in np.linspace(30.0, 62.0, 9):
            for of in (evaporator_cooling, compressor_power):
                generic = of(UNIT.map, suction, condensing)
                assert of(unit.map, suction, condensing) == pytest.approx(generic, rel=0.005)
    assert unit.rated_suction_C == pytest.approx(UNIT.rated_suction_C, abs=0.1)
    for temp, wet, condensing in ((26.7, 19.4, 48.9), (24.0, 18.0, 40.0), (28.0, 22.0, 57.0)):
        w = hum_ratio_from_wet_bulb(temp, wet, P)
        args = (1.0, temp, w, P, UNIT.rated_flow_kg_s, condensing, 10.0)
        found, expected = steady_state(unit.map, *args), steady_state(UNIT.map, *args)
        assert found[0] == pytest.approx(expected[0], rel=0.005)
        assert found[2] == pytest.approx(expected[2], rel=0.005)


def test_map_is_held_against_the_stated_rating() -> None:
    """The fitted map takes the rated power; with C8 and C9 of it exchanged it takes half as much
    again, (C9 - C8)(D S2 - S D2) = 3.9 kW at 45 and 120 F, and is refused."""
    rating = replace(RATING, efficiency_cop=11.2 / 3.412142)
    fitted = regressed()
    unit = unit_from_compressor_map(fitted, rating, CIRCUIT)
    (note,) = (note for note in unit.notes if "the map is kept" in note)
    assert note.count(f"{UNIT.rated_compressor_W / 1000:.3g} kW") == 2
    assert "45.0 F suction and 120.0 F condensing" in note
    power = list(fitted.power_coefficients)
    power[7], power[8] = power[8], power[7]
    with pytest.raises(InputError, match="C8 goes with D S2") as caught:
        unit_from_compressor_map(replace(fitted, power_coefficients=power), rating, CIRCUIT)
    assert "120.0 F condensing" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_capacity_form_equals_flow_form() -> None:
    flow = regressed()
    by_flow = unit_from_compressor_map(flow, RATING, CIRCUIT)
    # One state by hand: capacity of the map is flow times refrigerating effect.
    table = refrigerant_table("R-410A", UNIT.superheat_K, UNIT.subcooling_K)
    s, d = np.array([7.0]), np.array([45.0])
    lb_h = ten_coefficients(flow.output_coefficients, s * 1.8 + 32, d * 1.8 + 32)
    expected = lb_h * 0.45359237 / 3600 * compression(table, s, d).refrigerating_effect
    assert evaporator_cooling(by_flow.map, 7.0, 45.0) == pytest.approx(float(expected[0]), rel=1e-3)


def test_map_file_of_the_docs_is_a_map(tmp_path: Path) -> None:
    readme = (Path(__file__).parents[3] / "docs" / "files.md").read_text()
    start = readme.index("output = [")
    path = tmp_path / "compressor.toml"
    path.write_text(readme[start : readme.index("```", start)])
    stated = read_compressor_map(path)
    unit = unit_from_compressor_map(stated, RATING, CIRCUIT)
    assert unit.rated_suction_C == pytest.approx(UNIT.rated_suction_C, abs=0.2)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('compressors = "two"', "compressors needs a number"),
        ("compressors = 0", "is not a count"),
        ("compressors = 1.5", "is not a count"),
        ('superheat = "20 F"', "superheat needs a number"),
        ("frequency = 60", "frequency is not known"),
    ],
)
def test_faulty_map_files_are_one_sentence(tmp_path: Path, line: str, words: str) -> None:
    path = tmp_path / "compressor.toml"
    path.write_text(
        f"output = {[1.0] * 10}\npower = {[1.0] * 10}\n"
        'output_unit = "lb/h"\ntemperature_unit = "F"\n'
        f"suction_range = [20, 60]\ncondensing_range = [80, 140]\n{line}\n"
    )
    with pytest.raises(InputError, match=words) as caught:
        read_compressor_map(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"power_coefficients": [1.0] * 9}, "ten coefficients"),
        ({"power_coefficients": [-5.0] + [0.0] * 9}, "power is not above zero"),
        ({"power_coefficients": [9e3, 0.0, -20.0] + [0.0] * 7}, "power falls"),
        ({"output_unit": "tons"}, "write one of"),
        ({"temperature_unit": "K"}, "temperatures"),
        ({"compressors": 4}, "number of compressors"),
        ({"condensing_range_C": (30.0, 32.0)}, "at least 5 K"),
        ({"output_unit": "kg/h"}, "isentropic efficiency"),
    ],
)
def test_implausible_maps_are_one_sentence(changes: dict[str, object], words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        unit_from_compressor_map(replace(regressed(), **changes), RATING, CIRCUIT)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value)


def test_a_rating_outside_its_map_is_one_sentence() -> None:
    with pytest.raises(InputError, match="outside the range of its compressor map"):
        unit_from_compressor_map(regressed(), RATING, replace(CIRCUIT, condensing_C=64.0))
