"""dewledger unit: the map, the rainy day, the cycle; and what it refuses."""

import csv
import re

import pytest

PNG = b"\x89PNG\r\n\x1a\n"


def numbers(line):
    return [float(text) for text in re.findall(r"-?\d+(?:\.\d+)?", line)]


def rows(said, title):
    """Figures of the table under a title, one list per line."""
    lines = said.out.splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith(title))
    found = []
    for line in lines[start + 5 :]:
        if line.startswith(("Half load", "Power:")):
            break
        if line.strip():
            found.append(numbers(line))
    return found


def test_help_shows_an_example(dewledger):
    said = dewledger("unit", "--help")
    assert said.code == 0
    assert "dewledger unit hall.toml" in " ".join(said.out.split())


def test_map_and_rainy_day(dewledger, case, tmp_path):
    picture = tmp_path / "unit.png"
    # Half the load by a coil that re-evaporates no water, at the residential cycling loss.
    simple = '[unit]\nre_evaporation = { model = "none" }\ncycling_degradation = "25 %"\n'
    path = case(("[unit]\n", simple))
    said = dewledger("unit", path, "--display", "I-P", "--picture", picture)
    assert said.code == 0, said.err
    answer = re.search(
        r"At 65 °F saturated outdoor air, maximum reheat leaving-air temperature by condenser heat "
        r"is (\d+) °F",
        " ".join(said.out.split()),
    )
    assert answer is not None
    for title in ("At full capacity", "Half load"):
        table = rows(said, title)
        assert len(table) == 24
        assert {row[0] for row in table} == {55.0, 65.0, 75.0, 85.0, 95.0, 105.0}
        for row in table:
            assert len(row) == 10
            # warm air is between the coil's and the condenser's temperature, unraised below raised
            assert row[9] <= row[7] <= row[8]
            assert 0.0 < row[3] <= 1.0
    full, half = rows(said, "At full capacity"), rows(said, "Half load")
    for a, b in zip(full, half, strict=True):
        # capacity of half the sensible cooling by cycling is half the capacity
        assert b[2] == pytest.approx(a[2] / 2.0, rel=0.01)
        # Cd = 0.25: half the load takes 1 / 1.75 of the hour
        assert b[4] == pytest.approx(a[4] / 1.75, rel=0.01)
    # Wetter air gives more capacity, warmer weather less.
    assert full[3][2] > full[0][2]
    assert full[20][2] < full[0][2]
    assert picture.read_bytes().startswith(PNG)
    assert (tmp_path / "unit-cycle.png").read_bytes().startswith(PNG)
    assert "common practice, no source" in said.out
    assert "modeled, not certified" in said.out


def test_without_recovery(dewledger, case):
    said = dewledger("unit", case(), "--option", "electric")
    assert said.code == 0
    assert "recovers no heat" in said.out
    assert all(len(row) == 6 for row in rows(said, "At full capacity"))


def test_pictures_repeat(dewledger, case, tmp_path):
    made = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        dewledger("unit", case(), "--picture", tmp_path / name / "u.svg")
        made.append([path.read_bytes() for path in sorted((tmp_path / name).iterdir())])
    assert len(made[0]) == 2
    assert made[0] == made[1]


def write_unit_table(path):
    """A plausible table: linear in wet bulb and outdoor temperature."""
    head = (
        "entering_wet_bulb_C", "entering_dry_bulb_C", "outdoor_dry_bulb_C", "total_kW",
        "sensible_kW", "compressor_power_kW",
    )  # fmt: skip
    with path.open("w", newline="") as file:
        out = csv.writer(file)
        out.writerow(head)
        for wet in (14.0, 19.4, 23.0):
            for dry in (20.0, 26.7):
                for outdoor in (10.0, 35.0, 45.0):
                    total = 14.0 + 0.4 * (wet - 19.4) - 0.12 * (outdoor - 35.0)
                    sensible = min(10.0 - 0.9 * (wet - 19.4) + 0.6 * (dry - 26.7), total)
                    power = 3.6 + 0.07 * (outdoor - 35.0)
                    out.writerow((wet, dry, outdoor, total, sensible, power))


def test_tabulated_unit_has_no_cycle(dewledger, case, tmp_path):
    path = case(
        ('total_capacity = "14 kW"\nsensible_heat_ratio = "72 %"\nefficiency = "3.4 COP"',
         'method = "table"\ntable = "unit.csv"'),
    )  # fmt: skip
    write_unit_table(path.parent / "unit.csv")
    said = dewledger("unit", path, "--picture", tmp_path / "unit.png")
    assert said.code == 0, said.err
    assert "no refrigeration cycle" in said.out
    assert (tmp_path / "unit.png").exists()
    assert not (tmp_path / "unit-cycle.png").exists()


@pytest.mark.parametrize(
    ("arguments", "changes", "words"),
    [
        (["--display", "metric"], [], "write I-P or SI"),
        (["--option", "condensor"], [], 'did you mean "condenser"'),
        (["--picture", "unit.bmp"], [], ".png"),
        (["--entering", "72"], [], "--entering"),
        (["--entering", "5 degF"], [], "out of range"),
        (
            [],
            [('source = "condenser"', 'source = "condenser", capacity = "40 kW"')],
            "larger than the unit can ever feed",
        ),
        (
            [],
            [('efficiency = "3.4 COP"', 'efficiency = "3.4 COP"\nrefrigerant = "R-404A"')],
            "R-454B",
        ),
        (
            [],
            [
                (
                    'efficiency = "3.4 COP"',
                    'efficiency = "3.4 COP"\ncondensing_floor = "60 degC"\n'
                    'condensing_ceiling = "50 degC"',
                )
            ],
            "not below condensing_ceiling",
        ),
        *(
            ([], [('efficiency = "3.4 COP"', f'efficiency = "3.4 COP"\n{line}')], words)
            for line, words in (
                ('condensing_ceiling = "200 degF"', 'at most "149 degF"'),
                (
                    'capacity_control = "stages"\n'
                    'stages = ["20 %", "40 %", "60 %", "80 %", "100 %"]',
                    "at most four",
                ),
                ('surface_floor = "60 degF"', "at its own rating"),
                ('minimum_run_time = "3 h"', "longer than an hour"),
            )
        ),
    ],
)
def test_mistakes_are_one_sentence(dewledger, case, arguments, changes, words):
    said = dewledger("unit", case(*changes), *arguments)
    assert said.code == 2
    assert words in said.err
    assert "Traceback" not in said.err
    assert len(said.err.strip().splitlines()) == 1
