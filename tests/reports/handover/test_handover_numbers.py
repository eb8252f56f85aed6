"""Schedule, sequence, commissioning and design hours: each number read back from summary.json.

The conversions are written anew: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 Btu = 1055.05585262 J
(ISO 31-4), conventional inch of water 249.08891 Pa, 1 psi = 6894.757 Pa, EER = COP x 3.412142.
"""

import json
import re

import pytest

from dewledger.case import bundled_case
from dewledger.reports.files.data_files import summary_json
from dewledger.reports.handover.commissioning import design_table, start_up_table
from dewledger.reports.handover.schedule import schedule_table
from dewledger.reports.handover.section import handover_of, handover_section
from dewledger.study import run_study

KBTU_H = 3.412142e-3
CFM = 1.0 / 0.3048**3 * 60.0
SHOWN = {  # by the SI unit of a value: number on the page
    "m3/s": lambda v: v * CFM,
    "W": lambda v: v * KBTU_H,
    "fraction": lambda v: v * 100.0,
    "degC": lambda v: v * 1.8 + 32.0,
    "K": lambda v: v * 1.8,
    "Pa": lambda v: v / 249.08891,
    "kg/s": lambda v: v / 0.45359237 * 3600.0,
    "COP": lambda v: v * 3.412142,
    "m3/s/W": lambda v: v * CFM * 12e3 * 1055.05585262 / 3600.0,  # cfm for each ton of 12,000 Btu/h
    "s": lambda v: v / 60.0 if v < 3600.0 else v / 3600.0,
}
# Rows of the schedule that hold numbers: keys in summary.json, each with its SI unit.
SCHEDULE = {
    "Gross total capacity at the rating": [("rated_total_W", "W")],
    "Compressor power at the rating": [("rated_compressor_W", None)],
    "Rated efficiency": [("rated_efficiency_COP", "COP")],
    "Supply air": [("supply_air_m3_s", "m3/s")],
    "Supply fan power": [("supply_fan_W", None)],
    "Outdoor air, most": [("outdoor_air_most_m3_s", "m3/s")],
    "Minimum condensing temperature": [("minimum_condensing_C", "degC")],
    "Maximum condensing temperature": [("maximum_condensing_C", "degC")],
    "Space heating": [("heating_efficiency", "fraction")],
    "Energy recovery": [
        ("energy_recovery_sensible_frac", "fraction"),
        ("energy_recovery_latent_frac", "fraction"),
    ],
    "Humidifier": [("humidifier_capacity_kg_s", "kg/s")],
    "Separate room unit": [("room_unit_efficiency_COP", "COP"), ("room_unit_capacity_W", "W")],
}
REHEAT = (
    ("capacity_W", "W"),
    ("rated_heat_W", "W"),
    ("effectiveness", "fraction"),
    ("efficiency", "fraction"),
    ("pressure_drop_Pa", "Pa"),
)


@pytest.fixture(scope="module", params=["music-school", "museum-store"])
def solved(request, study):
    """The demo, and a case with recovery, humidifier and an outdoor-air unit next to a room's."""
    return study if request.param == "music-school" else run_study(bundled_case(request.param))


@pytest.fixture(scope="module")
def content(solved):
    return json.loads(summary_json(solved))["options"]


def numbers(text):
    """Numbers in a text, those of names such as R-454B left out."""
    plain = re.sub(r"R-\d+\w*", "", text).replace("−", "-")
    return [float(n.replace(",", "")) for n in re.findall(r"(?<![\w-])-?\d[\d,]*(?:\.\d+)?", plain)]


def shown(value, unit):
    return value if unit is None else SHOWN[unit](value)


def test_the_schedule(solved, content):
    table = schedule_table(solved, "I-P")
    checked = 0
    for row in table.rows:
        for option, cell in zip(solved.options, row.cells, strict=True):
            found = content[option.key]["equipment_schedule"]
            if row.head.startswith("Reheat "):
                place = found.get(f"reheat_{row.head.split()[1]}")
                wanted = [(place[key], unit) for key, unit in REHEAT if place and place[key]]
                if place and place["rated_heat_W"]:
                    wanted = [one for one in wanted if one[0] != place["capacity_W"]]
                if place and place["effectiveness"]:
                    wanted = [one for one in wanted if one[0] != place["efficiency"]]
            elif row.head in SCHEDULE and cell.text != "–":
                wanted = [(found[key], unit) for key, unit in SCHEDULE[row.head]]
                wanted = [one for one in wanted if one[0] is not None]
            else:
                wanted = []
                assert cell.text in ("–", "none") or cell.text in map(str, found.values()) or (
                    row.head == "This unit is" and found["outdoor_air_unit"]
                ), row.head  # fmt: skip
            assert numbers(cell.text) == pytest.approx(
                [shown(*one) for one in wanted], rel=0.006
            ), (row.head, cell.text)
            checked += len(wanted)
    assert checked > 40


def test_the_sequence(solved, content):
    section = handover_section(solved, handover_of(solved), "I-P").parts[0]
    (option,) = (one for one in solved.options if section.title.endswith(f": {one.title}"))
    groups = content[option.key]["sequence_of_operation"]
    said = [
        f"{group['heading']}. {' '.join(line['text'] for line in group['sentences'])}"
        for group in groups
    ]
    assert list(section.paragraphs) == said
    checked = 0
    for one in content.values():
        for group in one["sequence_of_operation"]:
            for line in group["sentences"]:
                if line["unit"] is None:
                    continue
                values = line["value"] if isinstance(line["value"], list) else [line["value"]]
                found = numbers(line["text"])
                found = found[1:] if line["text"].startswith("Reheat source") else found
                wanted = [shown(value, line["unit"]) for value in values if value is not None]
                assert found[: len(wanted)] == pytest.approx(wanted, rel=0.006), line
                checked += len(wanted)
    assert checked > 30


def test_the_commissioning_sheets(solved, content):
    sheets = handover_of(solved).sheets
    keys = {
        "Entering air, dry bulb": "entering_dry_bulb_C",
        "Entering air, wet bulb": "entering_wet_bulb_C",
        "coil leaving air": "leaving_coil_C",
        "air leaving the cooling coil": "leaving_coil_C",
        "air leaving the reheat coil": "leaving_reheat_coil_C",
        "saturated suction": "saturated_suction_C",
        "SCT": "saturated_condensing_C",
        "suction pressure": "suction_pressure_Pa",
        "discharge pressure": "discharge_pressure_Pa",
        "discharge gas": "discharge_gas_C",
    }
    groups = {"Cooling": "cooling", "Maximum reheat": "maximum_reheat"}
    for option in solved.options:
        rows = content[option.key]["commissioning"]
        table = start_up_table(option, sheets[option.key], "I-P")
        outdoors = [number for head in table.heads[2:-1] for number in numbers(head.text)]
        assert outdoors == pytest.approx([SHOWN["degC"](r["outdoor_C"]) for r in rows], abs=0.051)
        assert len(table.rows) >= 8
        for row in table.rows:
            group, _, name = row.head.partition(": ")
            for found, cell in zip(rows, row.cells, strict=False):
                state = found[groups[group]] if group in groups else found
                value = state and state[keys[name or group]]
                if value is None:
                    assert cell.text == "–"
                    continue
                wanted = (
                    (value - 101325.0) / 6894.757 if "pressure" in name else SHOWN["degC"](value)
                )
                assert numbers(cell.text) == pytest.approx([wanted], abs=0.051), row.head


def test_the_design_hours(solved, content):
    table = design_table(solved, handover_of(solved).checks, "I-P")
    rows = iter(table.rows)
    for what in ("dew-point", "dry-bulb", "part-load"):
        for option in solved.options:
            found = content[option.key]["design_hours"][what]
            row = next(rows)
            when, *figures, held = [cell.text for cell in row.cells]
            assert row.head == option.title
            assert when == found["hour_beginning"]
            temps = [found[key] for key in ("outdoor_C", "outdoor_dew_point_C", "room_C")]
            wanted = [*map(SHOWN["degC"], temps), 100.0 * found["room_rh_frac"]]
            for text, value, half in zip(figures, wanted, (0.051, 0.051, 0.051, 0.51), strict=True):
                assert numbers(text) == pytest.approx([value], abs=half)
            assert held.startswith("met") == found["met"]
            short = []
            if found["hum_ratio_above_limit_kg_kg"]:
                short.append(found["hum_ratio_above_limit_kg_kg"] * 7000.0)  # grains in a pound
            if found["above_setpoint_K"] > 0.1:
                short.append(SHOWN["K"](found["above_setpoint_K"]))
            if found["reheat_unmet_W"] > 1.0:
                short.append(SHOWN["W"](found["reheat_unmet_W"]))
            assert numbers(held) == pytest.approx(short, rel=0.006)
