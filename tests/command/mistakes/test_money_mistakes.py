"""Wrong prices, codes and draws through the command: one sentence, exit code 2, nothing written."""

import pytest

PERIODS = """
[[prices.electricity_periods]]
name = "day"
price = "0.15 USD/kWh"
hours = "{day}"

[[prices.electricity_periods]]
name = "night"
price = "0.08 USD/kWh"
hours = "20:00-08:00"

[options.electric]"""


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ('[allowance]\ncode = "90.1"\nedition = "2018"\n', ('"2018"', "2004", "2019", "2022")),
        ('[allowance]\ncode = "91.1"\n', ('"91.1"', '"90.1"')),
        ('[allowance]\nclimate_zone = "9A"\nedition = "2019"\n', ('"9A"', "3A")),
        (PERIODS.format(day="07:00-20:00")[1:], ("overlap", "07:00-08:00", '"day"', '"night"')),
        (PERIODS.format(day="09:00-20:00")[1:], ("without a price", "08:00-09:00")),
        ('[prices]\nelectricity = "-0.12 USD/kWh"\n', ("negative", "-0.12 USD/kWh")),
        ('[prices]\ngas = "-1 USD/therm"\n', ("negative", "-1 USD/therm")),
        ("[prices]\ndiscount_rate = 3\n", ("3 %",)),
        ('[prices]\ndiscount_rate = "300 %"\n', ("discount_rate",)),
        ('[prices]\nlife = "0 year"\n', ("life", "15 year")),
        ("[prices]\nlife = 15\n", ("no unit", "15 year")),
        ('[prices]\ndemand_ratchet = "80 %"\n', ("demand", "14 USD/kW")),
        ('[prices]\nstate = "ZZ"\n', ('"ZZ"', "NC")),
        ('[ranges]\ngains = ["110 %", "120 %"]\n', ("gains", '["80 %", "120 %"]')),
        ('[humidity]\ncriteria = ["museum-Z"]\n', ('"museum-Z"', "museum-A")),
    ],
    ids=[
        *("unknown edition", "unknown code", "unknown climate zone", "overlapping hours"),
        *("hours without a price", "negative electricity price", "negative gas price"),
        *("discount rate without per cent", "discount rate of 300 %", "life of zero"),
        *("life without unit", "ratchet without demand", "unknown state"),
        *("range with the case's own value", "unknown criterion"),
    ],
)
def test_what_the_case_gets_wrong(dewledger, case, tmp_path, new, words):
    if new.startswith("[humidity]"):
        path = case(("[humidity]\n", new))
    elif new.endswith("[options.electric]"):
        path = case(("[options.electric]", new))
    else:
        path = case(("[options.electric]", f"{new}\n[options.electric]"))
    said = dewledger("run", path, "--out", tmp_path / "out")
    assert said.code == 2
    assert said.err.count("dewledger: ") == 1
    assert "Traceback" not in said.err
    for word in words:
        assert word in said.err, said.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (("--draws", "100"), ("--draws", "--sensitivity")),
        (("--sensitivity", "--draws", "0"), ("--draws 0", "1000")),
        (("--sensitivity", "--seed", "-1"), ("--seed -1",)),
        (("--sensitivity", "--also-weather", "nowhere.epw"), ("nowhere.epw",)),
        (("--also-weather", "miami"), ("--also-weather", "--sensitivity")),
    ],
)
def test_what_the_command_gets_wrong(dewledger, case, tmp_path, given, words):
    said = dewledger("run", case(), "--out", tmp_path / "out", *given)
    assert said.code == 2
    assert said.err.startswith("dewledger: ")
    assert len(said.err.splitlines()) == 1
    for word in words:
        assert word in said.err
    assert not (tmp_path / "out").exists()


def test_sensitivity_of_a_single_option(dewledger, case, tmp_path):
    alone = '[options.condenser]\ntitle = "Condenser heat"\nreheat = [{ source = "condenser" }]\n'
    said = dewledger("run", case((alone, "")), "--out", tmp_path / "out", "--sensitivity")
    assert said.code == 2
    assert len(said.err.splitlines()) == 1
    assert "write at least two" in said.err
    assert not (tmp_path / "out").exists()


FIXED = "\n".join(
    f'{name} = ["100 %", "100 %"]'
    for name in ("gains", "infiltration", "moisture_storage", "rated_capacity", "gas_price")
)


def test_check_reads_prices_and_costs_too(dewledger, case):
    for new, words in (
        ('[prices]\ncarbon_hourly = "grid.csv"\n\n[options.electric]', "grid.csv"),
        ('[options.electric]\ncost = { first_cost = "3000 EUR" }', "is not in USD"),
    ):
        said = dewledger("check", case(("[options.electric]", new)))
        assert said.code == 2
        assert len(said.err.splitlines()) == 1
        assert words in said.err


def test_sensitivity_and_money_reach_page_summary_and_terminal(dewledger, case, tmp_path):
    """One run for all: ranges of the case; a missing first cost is reported in one sentence, and
    what needs none goes on.
    """
    path = case(
        ("[options.electric]", '[options.electric]\ncost = { first_cost = "3000 USD" }'),
        ("[humidity]\n", f'[ranges]\nreason = "site survey"\n{FIXED}\n\n[humidity]\n'),
    )
    arguments = ("run", path, "--sensitivity", "--draws", "2", "--seed", "3")
    said = dewledger(*arguments, "--out", tmp_path / "out", "--format", "html,json")
    assert said.code == 0
    assert "2 Latin hypercube samples, seed 3" in said.out
    assert "Sensitivity of" in said.out
    page = (tmp_path / "out/report.html").read_text()
    for title in (
        "Energy cost and life-cycle cost",
        "Energy code findings",
        "Sensitivity of the answer",
    ):
        assert title in page
    assert "needs first_cost of “Condenser heat”" in page
    summary = (tmp_path / "out/summary.json").read_text()
    assert 'cannot be determined: needs first_cost of \\"condenser\\"' in summary
    assert "rated efficiency" in summary
    assert "rated capacity" not in summary
