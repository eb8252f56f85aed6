"""Files named by a case that went wrong: tables, loads, carbon factors, answers to questions."""

import pytest

from dewledger.accounts.bills import read_carbon_hourly
from dewledger.assembly.gains import read_loads
from dewledger.case.gains import LoadsFile
from dewledger.dx_unit.from_compressor_map import read_compressor_map
from dewledger.dx_unit.from_table import read_table
from dewledger.interview.answers import Answers
from dewledger.interview.questions import QUESTIONS

pytestmark = pytest.mark.fuzz

TABLE = (
    "entering_wet_bulb_C,entering_dry_bulb_C,outdoor_dry_bulb_C,total_kW,sensible_kW,"
    "compressor_power_kW\n"
) + "".join(
    f"{wet},{dry},{outdoor},{30 + wet - outdoor / 5},{18 + dry / 4},{5 + outdoor / 10}\n"
    for wet in (15, 19, 22)
    for dry in (24, 27)
    for outdoor in (25, 35, 45)
)
MAP = """
output_unit = "Btu/h"
temperature_unit = "F"
output = [100000.0, 1500.0, -500.0, 10.0, -5.0, -2.0, 0.01, 0.01, 0.01, 0.01]
power = [4000.0, 10.0, 20.0, 0.1, 0.2, 0.3, 0.001, 0.001, 0.001, 0.001]
suction_range = [20.0, 55.0]
condensing_range = [70.0, 140.0]
"""
HOURLY = "sensible_kW,latent_kW\n" + "".join(f"{i % 24},0.5\n" for i in range(8760))
CARBON = "kg/MWh\n" + "".join(f"{300 + i % 24}\n" for i in range(8760))


def loads(path):
    return read_loads(LoadsFile.model_validate({"path": path.name}), path.parent)


@pytest.mark.parametrize(
    ("text", "read", "count"),
    [
        (TABLE, read_table, 100),
        (MAP, read_compressor_map, 100),
        (HOURLY, loads, 15),
        (CARBON, read_carbon_hourly, 15),
    ],
    ids=["table", "compressor map", "loads", "carbon"],
)
def test_mutated_files(tmp_path, mutated, effort, result_or_sentence, text, read, count):
    path = tmp_path / "side.csv"
    path.write_text(text, encoding="utf-8")
    read(path)  # the sound text
    for seed in range(count * effort):
        path.write_bytes(mutated(text, seed))
        result_or_sentence(read, path)


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda question: question.text[:30])
def test_mutated_answers(tmp_path, mutated, effort, result_or_sentence, question):
    answers = Answers(tmp_path)
    for seed in range(15 * effort):
        said = mutated(answers.default(question), seed).decode("utf-8", "replace")
        result_or_sentence(answers.answer, question, said)
