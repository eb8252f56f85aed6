"""dewledger hour: the lesson of reheat in three hours, hours of the year, and mistakes."""

import re

import pytest
from former_premises import former_case

FULL = ("--outdoor", "95 degF", "--wet-bulb", "72 degF", "--latent-load", "40 %")
PART = (
    "--outdoor", "70 degF", "--wet-bulb", "69 degF", "--sensible-load", "30 %",
    "--latent-load", "20 %",
)  # fmt: skip


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    path = tmp_path_factory.mktemp("school") / "hall.toml"
    # A coil that re-evaporates no water: at full load sensible cooling then dries enough.
    case = former_case("music-school").with_values({"unit.re_evaporation.model": "none"})
    path.write_text(case.to_toml(path.parent), encoding="utf-8")
    return path


def states(text):
    """Figures of each state by its label: dry bulb, wet bulb, dew point, RH, humidity ratio, ..."""
    found = {}
    for line in text.splitlines():
        match = re.match(r"(\d) (\D+?) {2,}([-−\d.].*)$", line)
        if match:
            found[match[2]] = [
                float(cell.replace("−", "-").replace(",", "")) if cell != "–" else 0.0
                for cell in match[3].split()
            ]
    return found


def test_full_load_needs_no_reheat(dewledger, school):
    said = dewledger("hour", school, *FULL)
    assert said.code == 0, said.err
    assert "Cooling call only" in said.out
    assert "After reheat" not in said.out
    assert float(re.search(r"sensible heat ratio: ([\d.]+)", said.out)[1]) > 0.8
    assert states(said.out)["Room"][3] <= 53.0


def test_part_load_without_reheat_leaves_the_room_damp(dewledger, school):
    said = dewledger("hour", school, *PART, "--option", "none")
    assert said.code == 0, said.err
    at = states(said.out)
    assert "After reheat" not in at
    assert at["Room"][3] > 70.0
    assert "above its range" in said.out


@pytest.mark.published
def test_part_load_with_reheat_stays_dry(dewledger, school):
    """A room sensible heat ratio of 0.53 is the classic figure of a lecture hall or church at part
    load with full people (common practice, no source)."""
    said = dewledger("hour", school, *PART, "--option", "condenser")
    assert said.code == 0, said.err
    at = states(said.out)
    assert at["Room"][3] == 53.0
    assert at["Room"][0] == 72.0
    # reheat is sensible only: the humidity ratio stays, the dry bulb rises
    assert at["After reheat"][4] == at["Leaving coil"][4]
    assert at["After reheat"][0] > at["Leaving coil"][0] + 10.0
    ratio = float(re.search(r"sensible heat ratio: ([\d.]+)", said.out)[1])
    assert ratio == pytest.approx(0.53, abs=0.01)
    assert "is recovered" in " ".join(said.out.split())


@pytest.mark.parametrize("display", ["I-P", "SI"])
def test_it_fits_100_columns(dewledger, school, display):
    said = dewledger("hour", school, "--worst", "reheat", "--display", display)
    assert said.code == 0, said.err
    assert max(len(line) for line in said.out.splitlines()) <= 100
    assert "\x1b" not in said.out
    assert ("°F" in said.out) == (display == "I-P")
    for words in ("dry bulb", "wet bulb", "dew point", "RH", "humidity ratio", "enthalpy", "flow"):
        assert words in said.out


@pytest.mark.parametrize(
    ("given", "when"),
    [
        (("--at", "Jul 15 16:00"), "Jul 15 16:00"),
        (("--at", "January 1 0:00", "--option", "gas"), "Jan 1 00:00"),
        (("--worst", "dry-bulb"), "Jul 9 13:00"),
        (("--worst", "dew-point"), None),
        (("--worst", "out-of-range", "--option", "none"), None),
    ],
)
def test_hours_of_the_year(dewledger, school, given, when):
    said = dewledger("hour", school, *given)
    assert said.code == 0, said.err
    assert when is None or when in said.out
    assert "Outdoor" in said.out


@pytest.mark.parametrize("suffix", [".png", ".svg", ".pdf"])
def test_picture(dewledger, school, tmp_path, suffix):
    starts = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}
    path = tmp_path / f"hour{suffix}"
    said = dewledger("hour", school, "--at", "Jul 15 16:00", "--picture", path)
    assert said.code == 0, said.err
    assert path.read_bytes().startswith(starts[suffix])
    if suffix == ".svg":
        text = path.read_text(encoding="utf-8")
        for words in ("reheat", "room sensible heat ratio", "hours outdoors", "range: "):
            assert words in text


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((), '"Jul 15 16:00"'),
        (("--at", "Feb 30 10:00"), "365 days"),
        (("--at", "Feb 29 10:00"), "365 days"),
        (("--at", "Jul 15 24:00"), "hours 0 to 23"),
        (("--at", "15 july 16:00"), '"Jul 15 16:00"'),
        (("--at", "tomorrow"), '"Jul 15 16:00"'),
        (("--worst", "reheet"), 'did you mean "reheat"'),
        (("--worst", "reheat", "--option", "none"), "never overcools"),
        (("--at", "Jul 15 16:00", "--worst", "reheat"), "--at and --worst"),
        (("--at", "Jul 15 16:00", "--outdoor", "95 degF"), "--at and --outdoor"),
        (("--worst", "reheat", "--latent-load", "20 %"), "--worst and --outdoor"),
        (("--outdoor", "95 degF"), "--wet-bulb too"),
        (("--latent-load", "20 %"), "--outdoor too"),
        (("--outdoor", "80 degF", "--wet-bulb", "81 degF"), "--wet-bulb is above --outdoor"),
        (("--outdoor", "110 degF", "--wet-bulb", "50 degF"), "no moisture"),
        (("--outdoor", "95", "--wet-bulb", "78 degF"), '"75 degF"'),
        (("--outdoor", "95 degF", "--wet-bulb", "78 cfm"), "--wet-bulb"),
        ((*PART[:4], "--sensible-load", "140 %"), "--sensible-load"),
        (("--at", "Jul 15 16:00", "--option", "condensor"), 'did you mean "condenser"'),
        (("--at", "Jul 15 16:00", "--display", "metric"), "I-P or SI"),
        (("--at", "Jul 15 16:00", "--picture", "hour.gif"), ".png, .svg, .pdf"),
        (("--at", "Jul 15 16:00", "--picture", "no-such-folder/hour.png"), "cannot be written"),
    ],
)
def test_mistakes_are_one_sentence(dewledger, school, tmp_path, monkeypatch, given, words):
    monkeypatch.chdir(tmp_path)
    said = dewledger("hour", school, *given)
    assert said.code == 2
    last = said.err.strip().splitlines()[-1]
    assert words in last
    assert last.startswith("dewledger: ")
    assert "Traceback" not in said.err
    assert not list(tmp_path.iterdir())
