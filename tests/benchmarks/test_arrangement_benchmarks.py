"""The option-year of each reheat arrangement and compressor, relative to plain modulating.

Nothing is asserted on time; ``pytest -n 0 -m benchmark -s`` prints the ratios.
"""

import time

import pytest
from former_premises import former_text, on_former_premises

from dewledger.assembly.machine import assemble
from dewledger.case.files import case_from_text
from dewledger.study import read_weather, solve_option

OPTIONS = {
    "on/off": 'reheat = [{ source = "condenser", control = "on/off" }]',
    "subcooling": 'reheat = [{ source = "subcooling" }, { source = "electric" }]',
    "subcooling then condenser": 'reheat = [{ source = "subcooling" }, { source = "condenser" }]',
    "wrap-around": 'reheat = [{ source = "wrap-around" }, { source = "electric" }]',
    "two stages": (
        'unit = { capacity_control = "stages", stages = ["50 %", "100 %"] }\n'
        'reheat = [{ source = "condenser" }]'
    ),
    "four stages": (
        'unit = { capacity_control = "stages", stages = ["25 %", "50 %", "75 %", "100 %"] }\n'
        'reheat = [{ source = "condenser" }]'
    ),
    "variable": 'unit = { capacity_control = "variable" }\nreheat = [{ source = "condenser" }]',
    "re-evaporation": (
        'unit = { re_evaporation = { model = "wet coil" } }\nreheat = [{ source = "condenser" }]'
    ),
}


@pytest.fixture(scope="module")
def machines():
    """Machines by arrangement, on the demo's year and the frozen premises."""
    text = on_former_premises(former_text("music-school"))
    for place, (title, body) in enumerate(OPTIONS.items()):
        text += f'\n[options.arrangement-{place}]\ntitle = "{title}"\n{body}\n'
    case = case_from_text(text)
    weather = read_weather(case)
    kept = {"condenser": "modulating", "electric": "purchased heat alone"}
    return {
        kept.get(option.key, option.title): assemble(option, weather)
        for option in case.option_cases()
        if option.key in kept or option.key.startswith("arrangement")
    }


def best_of(machine, times):
    """Processor seconds of the quickest of some option-years, once compiled."""
    solve_option(machine)
    found = []
    for _ in range(times):
        start = time.process_time()
        solve_option(machine)
        found.append(time.process_time() - start)
    return min(found)


@pytest.mark.benchmark
def test_option_year_by_arrangement(machines):
    seconds = {name: best_of(machine, 5) for name, machine in machines.items()}
    plain = seconds["modulating"]
    print()
    for name, value in seconds.items():
        print(f"{name:28s} {1000.0 * value:7.1f} ms {value / plain:6.2f} x modulating")
