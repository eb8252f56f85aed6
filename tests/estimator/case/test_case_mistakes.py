"""Each mistake in a case file is reported in one sentence that names the place and the remedy."""

import pytest
from former_premises import former_text

from dewledger.case import case_from_text, load_case
from dewledger.weather.errors import InputError

DEMO = former_text("music-school")


def sentence(text, folder="."):
    with pytest.raises(InputError) as caught:
        case_from_text(text, folder, "hall.toml")
    message = str(caught.value)
    assert message.startswith("hall.toml")
    assert "\n" not in message
    assert "pydantic" not in message
    return message.removeprefix("hall.toml").removeprefix(": ").strip()


def changed(old, new):
    assert old in DEMO
    return DEMO.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        # unknown keys
        (
            "supply_flow",
            "suply_flow",
            '[air] suply_flow: this key is not known (did you mean "supp',
        ),
        ('height = "14 ft"', 'height = "14 ft"\nfan = "cycling"', "[room] fan: this key is not kn"),
        ('height = "14 ft"', 'height = "14 ft"\nfan_power = "1 W"', "belongs in [air]"),
        ("[humidity]", "[humdity]", '[humdity]: this key is not known (did you mean "humidity"?)'),
        ("[heating]", "[heat]", '(did you mean "heating"?)'),
        (
            'state = "NC"',
            'stat = "NC"',
            '[prices] stat: this key is not known (did you mean "state',
        ),
        # quantities
        ('"4000 cfm"', "4000", '[air] supply_flow: 4000 has no unit; write for example "2400 cfm"'),
        ('"4000 cfm"', '"75 degF"', '[air] supply_flow: "degF" is not a unit of air flow'),
        ('"4000 cfm"', '"0 cfm"', '[air] supply_flow: "0 cfm" must be above zero'),
        ('"10 ton"', '"-10 ton"', '[unit] total_capacity: "-10 ton" cannot be negative'),
        ('"72 %"', '"120 %"', '[unit] sensible_heat_ratio: "120 %" is out of range'),
        ('"72 %"', "72", '[unit] sensible_heat_ratio: 72 is above 1; write "72 %"'),
        ('"0.15 ACH"', "true", "[room] infiltration: a rate is expected"),
        ("count = 60", "count = -3", '[loads.people] count: "-3" cannot be negative'),
        ("ratio = 15 ", "ratio = 0.5 ", "[room] moisture_storage_ratio: it is below 1"),
        # what does not go together
        ('"840 cfm"', '"5000 cfm"', 'outdoor_flow "5000 cfm" is above supply_flow "4000 cfm"'),
        ('"68 degF"', '"75 degF"', "[room]: the set points cross"),
        ('"68 degF"', '"68 degF"\nheating_setpoint_unoccupied = "80 degF"', "in unoccupied hours"),
        ('"40 %"', '"60 %"', "[humidity]: the humidity range crosses"),
        ('"53 %"', '"35 %"', '[humidity]: limit "35 %" is below range_low "40 %"'),
        ('"53 %"', '"55 degF"', "is not a unit of fraction"),
        ('limit = "53 %"\n', "", '[humidity]: control = "relative humidity" needs a limit'),
        ('"90 degF"', '"150 degF"', 'condensing_floor "150 degF" is not below'),
        ("count = 60", 'count = 60\narea_per_person = "3 ft2/person"', "are both given"),
        ("count = 60\n", "", "count or area_per_person is missing"),
        ('efficiency = "11.0 EER"\n', "", "efficiency or compressor_power is missing"),
        ('total_capacity = "10 ton"\n', "", "[unit]: total_capacity is missing; write for example"),
        ('"10 ton"', '"10 ton"\nmethod = "table"', "needs table"),
        ('"cycling"', '"stages"', "stages must rise to 100 %"),
        ('"cycling"', '"cycling"\nstages = ["50 %", "100 %"]', "stages are given, yet"),
        ('"cycling"', '"stages"\nstages = ["80 %", "50 %"]', "stages must rise to 100 %"),
        ('"cycling"', '"cyclin"', '[unit] capacity_control: "cyclin" is not known (did you mean'),
        ('fan_power = "1500 W"\n\n', "\n", 'write for example fan_power = "1.5 hp"'),
        ('fan_power = "1500 W"\n\n', 'fan_pressure = "1 inH2O"\n', "without fan_efficiency"),
        ('"gas"\nefficiency = "80 %"', '"gas"\nefficiency = "3.2 COP"', "is above 100 %"),
        ('effectiveness = "60 %"', 'efficiency = "60 %"', "purchases no heat"),
        (
            'source = "electric"',
            'source = "electric"\neffectiveness = "60 %"',
            "effectiveness belongs to",
        ),
        # profiles
        (
            "weekday = [0, 0",
            "weekday = [0",
            "[profiles.players] weekday: it has 23 values; write 24",
        ),
        ("weekday = [0, 0", "weekday = [0, 0, 0", "[profiles.players] weekday: it has 25 values"),
        ("1.0, 1.0, 0.8", "1.2, 1.0, 0.8", "[profiles.players]: 1.2 is above 1"),
        ("1.0, 1.0, 0.8", "-1.0, 1.0, 0.8", "-1 is below 0"),
        ("1.0, 1.0, 0.8", '"x", 1.0, 0.8', "[profiles.players] weekday, value 20"),
        ("[profiles.players]", "[profiles.always]", '"always" is a built-in profile'),
        ('profile = "players"', 'profile = "player"', '(did you mean "players"?)'),
        (
            "outdoor_profile = ",
            "outdoor_profile = 'x' #",
            '[air] outdoor_profile "x" is not a prof',
        ),
        # schedule
        ('"NC"\nclosures', '"XX"\nclosures', 'holiday_region "XX" is not a region of "US"'),
        ('"US"', '"Atlantis"', 'holiday_country "Atlantis" is not known'),
        ('holiday_country = "US"\n', "", "holiday_region is given without holiday_country"),
        ("New_York", "New_Yrok", 'is not a time zone (did you mean "America/New_York"?)'),
        ('"09:00-22:00"', '"9-22"', "[schedule] weekday"),
        ('"09:00-22:00"', '"09:30-22:00"', "begin and end on the hour"),
        ('"09:00-22:00"', '"all"', 'write "always"'),
        ('"12-23 to 01-02"', '"12-23"', "[schedule] closures"),
        ('"12-23 to 01-02"', '"13-23 to 01-02"', '"13-23" is not a day of the year'),
        ('["12-23 to 01-02"]', '"12-23 to 01-02"', "a list is expected"),
        ("closures =", 'holidays = ["02-29"]\nclosures =', '"02-29" is not a day'),
        # kinds of value, missing parts
        ("= 2023", "= 1800", "[site] calendar_year: 1800 is below 1970"),
        ("= 2023", '= "1800"', "[site] calendar_year: 1800 is below 1970"),
        ("= 2023", '= "soon"', "a whole number is expected"),
        ('weather = "greensboro"', 'weather = ""', "[site] weather: it is empty"),
        ('weather = "greensboro"', "weather = 3", "a text is expected; write it in quotes"),
        (
            'weather = "greensboro"\n',
            "",
            "[site] weather: this field is missing; write for example",
        ),
        (
            'height = "14 ft"\n',
            "",
            "[room] height: this field is missing; write for example height",
        ),
        ("[site]", "[[site]]", "[site]: a table is expected"),
        ('"moderately active', '"moderatly active', "[loads.people] activity"),
        ("[loads.people]", '[loads]\nroom_kind = "ofice"\n[loads.people]', 'did you mean "office"'),
        ('edition = "2019"\n', "", "[allowance]: the edition of 90.1 is missing"),
        (
            '"NC"\n\n',
            '"NC"\nelectricity = "-3 USD/kWh"\n',
            '[prices] electricity "-3 USD/kWh" is ne',
        ),
        ("museum-B", "museum-X", "[humidity] criteria"),
        # options
        ('= "electric"\n', '= "electrik"\n', 'reference "electrik" is not an option (did you mean'),
        ("[options.none]", "[options.None_x]", 'option key "None_x"'),
        ('title = "Gas reheat"\n', "", "[options.gas] title is missing"),
        (
            'source = "gas"\ncapacity',
            'source = "gaz"\ncapacity',
            "[[options.gas.reheat]] number 1 so",
        ),
        ('"85 kBtu/h"', '"85 degF"', "[[options.gas.reheat]] number 1 capacity"),
    ],
)
def test_one_sentence(old, new, says):
    assert says in sentence(changed(old, new))


@pytest.mark.parametrize(
    ("option", "says"),
    [
        (
            'unit = { total_capcity = "3 ton" }',
            "[options.bad.unit] total_capcity: this key is not kn",
        ),
        ('unit = { total_capacity = "3 V" }', '[options.bad.unit] total_capacity: unit "V" is not'),
        ('air = { supply_flow = "800 cfm" }', "[options.bad.air]: outdoor_flow"),
        ('humiditty = { control = "none" }', "[options.bad.humiditty]: this key is not known (did"),
        ('reheat = "none"', "[options.bad.reheat]: a list of tables is expected"),
        ('reheat = [{ source = "gas" }, { source = "gas" }]', 'source = "gas" twice'),
        ("options = { a = 1 }", 'option "bad" holds options'),
        ('reference = "none"', 'option "bad" holds reference'),
        ("profiles = { players = { weekday = [1] } }", "[options.bad.profiles.players] weekday"),
    ],
)
def test_one_sentence_for_an_option(option, says):
    assert says in sentence(DEMO + f'\n[options.bad]\ntitle = "Bad"\n{option}\n')


def test_an_option_that_breaks_another_part_names_itself():
    text = (
        DEMO + '\n[options.bad]\ntitle = "Bad"\nprofiles = { players = { allow_above_one = 3 } }\n'
    )
    assert "[options.bad.profiles.players] allow_above_one" in sentence(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is empty; dewledger new writes a case"),
        ("# only a comment\n", "is empty"),
        ("title = \n", "is not TOML at line 1, column 9"),
        ('title = "a"\nbogus line\n', "is not TOML at line 2, column 7"),
        ('title = "a', "is not TOML at"),
        ('title = "a"\ntitle = "b"\n', "is not TOML at line 2"),
        ('format = 2\ntitle = "a"\n', "[site]: this table is missing; write it with weather"),
        (DEMO.split("# --- Options")[0].replace('reference = "electric"\n', ""), "has no option"),
    ],
)
def test_one_sentence_for_a_whole_file(text, says):
    assert says in sentence(text)


def test_one_sentence_for_a_path(tmp_path):
    with pytest.raises(InputError, match=r'hall.toml" does not exist; dewledger new'):
        load_case(tmp_path / "hall.toml")
    with pytest.raises(InputError, match="is a folder"):
        load_case(tmp_path)
    (tmp_path / "hall.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not text in UTF-8"):
        load_case(tmp_path / "hall.toml")


def test_the_misspelling_is_told_before_what_it_leaves_missing():
    assert "heigth" in sentence(changed("height", "heigth"))
