"""Where the configuration comes from: the file that is found, the environment, the example."""

import os
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.faults.configuring import ENV, GOOD, faults, read

from drywind.config import SEARCH, Policy, example_text, load, reading
from drywind.errors import ConfigError
from drywind.units import Units

ROOT = Path(__file__).parents[2]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Start each test in an empty folder that is also its home."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    return tmp_path


YOUR_OWN = "put your own address: the weather service wants to reach you"
NO_SETTING = (
    "; allowed: DRYWIND_SECTION__KEY for [yard], [weather] and [policy], DRYWIND_SECRETS_DIR, "
    "DRYWIND_CONFIG, and the DRYWIND_URL_... a contact names"
)


@pytest.mark.parametrize("env", [{}, {"DRYWIND_CONFIG": "other.toml"}])
def test_a_named_file_that_is_missing_is_a_fault_that_says_how_to_make_one(
    env: dict[str, str],
) -> None:
    """A named file is never silently replaced by one that lies about."""
    Path("drywind.toml").write_text(GOOD, encoding="utf-8")

    with pytest.raises(ConfigError) as caught:
        load(None if env else Path("other.toml"), ENV | env)

    assert caught.value.lines == [
        "other.toml: no configuration can be read there; `drywind init` writes one to fill in"
    ]


def test_with_no_file_anywhere_the_fault_lists_where_was_looked(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The machine's own /etc may hold a configuration; a folder stands in for it."""
    places = [place.replace("/etc", f"{folder}/etc") for place in SEARCH]
    monkeypatch.setattr(reading, "SEARCH", places)

    with pytest.raises(ConfigError) as caught:
        load(None, {})

    (line,) = caught.value.lines
    home, etc = folder / ".config/drywind/config.toml", folder / "etc/drywind/config.toml"
    assert line.startswith(f"DRYWIND_CONFIG (not set), drywind.toml, {home}, {etc}: no ")
    assert line.endswith("; `drywind init` writes one to fill in")


def test_the_named_file_goes_before_the_folder_and_the_folder_before_the_home() -> None:
    home = Path(".config/drywind/config.toml")
    home.parent.mkdir(parents=True)
    places = (home, Path("drywind.toml"), Path("named.toml"))
    for place in places:
        place.write_text(GOOD.replace('"Yard"', f'"{place.stem}"'), encoding="utf-8")

    assert load(None, ENV | {"DRYWIND_CONFIG": "named.toml"}).yard_name == "named"
    assert load(None, ENV).yard_name == "drywind"
    places[1].unlink()
    assert load(None, ENV).yard_name == "config"


def test_all_faults_come_at_once() -> None:
    text = GOOD.replace("lat = 41.98", "lat = 95").replace("contact =", "#")
    reach = "an e-mail address or web site at which the weather service can reach you"
    latitude = "-90 to 90 degrees, north is positive"

    assert faults(text, ENV | {"DRYWIND_YRD__NAME": "x"}) == [
        f"environment: DRYWIND_YRD__NAME: no such setting, perhaps DRYWIND_YARD__NAME{NO_SETTING}",
        f"drywind.toml: weather.contact: is missing; allowed: {reach}",
        f"drywind.toml: sites#1.lat: 95 cannot be used; allowed: {latitude}",
    ]


def test_the_environment_overrides_single_settings_and_leaves_the_rest() -> None:
    config = read(
        GOOD + "[policy.safe_loss]\nred_oak = 3.0\nwhite_oak = 2.0\n",
        ENV
        | {
            "DRYWIND_YARD__UNITS": "metric",
            "DRYWIND_WEATHER__NWS_URL": "http://127.0.0.1:8080/",
            "DRYWIND_POLICY__REPEAT_HOURS": "12",
            "DRYWIND_POLICY__SAFE_LOSS__WHITE_OAK": "1.8",
        },
    )

    assert (config.units, config.contacts["Ada"].units) == (Units.METRIC, Units.METRIC)
    assert config.weather.nws_url == "http://127.0.0.1:8080"
    assert (config.policy.repeat_hours, config.policy.warn_hours_ahead) == (12, 48)
    assert config.policy.safe_loss == {"red_oak": 3.0, "white_oak": 1.8}
    assert config.yard_name == "Yard"


def test_only_the_environment_that_is_passed_in_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DRYWIND_YARD__NAME", "From the process")

    assert read(GOOD).yard_name == "Yard"


@pytest.mark.parametrize(
    ("variable", "perhaps"),
    [
        ("DRYWIND_POLICY__REPEAT_HUORS", ", perhaps DRYWIND_POLICY__REPEAT_HOURS"),
        ("drywind_yard__name", ", perhaps DRYWIND_YARD__NAME"),
        ("DRYWIND_POL", ""),
        ("DRYWIND_SITES", ""),
        ("DRYWIND_SITES__0__LAT", ""),
    ],
)
def test_a_variable_that_sets_nothing_is_a_fault(variable: str, perhaps: str) -> None:
    assert faults(GOOD, ENV | {variable: "[]"}) == [
        f"environment: {variable}: no such setting{perhaps}{NO_SETTING}"
    ]


def test_an_address_no_contact_uses_is_a_fault() -> None:
    wrong = "DRYWIND_URL_ADAH: no contact uses it, perhaps DRYWIND_URL_ADA"

    assert faults(GOOD, ENV | {"DRYWIND_URL_ADAH": "json://x"}) == [
        f"environment: {wrong}; allowed: DRYWIND_URL_ADA"
    ]


def test_a_wrong_value_in_the_environment_is_named_by_its_variable() -> None:
    assert faults(GOOD, ENV | {"DRYWIND_POLICY__REPEAT_HOURS": "soon"}) == [
        "environment: DRYWIND_POLICY__REPEAT_HOURS: 'soon' cannot be used; allowed: 6 to 168 hours"
    ]


def test_a_contact_in_the_environment_that_reaches_nobody_is_named_by_its_variable() -> None:
    assert faults(GOOD, ENV | {"DRYWIND_WEATHER__CONTACT": "yard@example.com"}) == [
        f"environment: DRYWIND_WEATHER__CONTACT: example.com reaches nobody; {YOUR_OWN}"
    ]


def test_variables_of_other_programs_are_left_alone() -> None:
    assert read(GOOD, ENV | {"PATH": "/bin", "DRYWINDOW": "1"}).yard_name == "Yard"


def test_the_example_loads_as_it_stands_once_its_addresses_are_set() -> None:
    config = load(
        ROOT / "config.example.toml",
        {
            "DRYWIND_WEATHER__CONTACT": "sawyer@yard.test",
            "DRYWIND_URL_ADA": "json://127.0.0.1",
            "DRYWIND_URL_OFFICE": "json://127.0.0.1",
        },
    )

    assert [site.roof for site in config.sites.values()] == [False, True, False]
    assert all(abs(site.altitude_m - 205) < 1 for site in config.sites.values())
    assert config.policy.safe_loss == {"white_oak": 2.0}


def test_whoever_changes_nothing_after_init_is_told_of_every_address_by_check(
    folder: Path, monkeypatch: pytest.MonkeyPatch, quick: Callable[..., Any]
) -> None:
    for variable in [name for name in os.environ if name.startswith("DRYWIND_")]:
        monkeypatch.delenv(variable)
    file = folder / ".config/drywind/config.toml"

    written, checked = quick("init"), quick("check")

    assert written.code == 0
    assert written.stdout.rstrip().endswith("run: drywind check")
    assert checked.code == 2
    assert checked.stderr.splitlines() == [
        f"{file}: weather.contact: example.com reaches nobody; {YOUR_OWN}",
        f"{file}: contacts#1.url_env: DRYWIND_URL_ADA: is not set; allowed: one Apprise URL",
        f"{file}: contacts#2.url_env: DRYWIND_URL_OFFICE: is not set; allowed: one Apprise URL",
    ]


def test_the_example_shows_the_true_defaults() -> None:
    example = tomllib.loads(example_text())
    config = read(GOOD)

    assert Policy.model_validate(example["policy"] | {"safe_loss": {}}) == config.policy
    unset = {"services": (), "open_meteo_url": None, "open_meteo_key": None}
    assert example["weather"] | unset == config.weather.model_dump() | {
        "contact": example["weather"]["contact"]
    }


def test_the_example_is_found_in_a_checkout_and_in_an_installed_wheel(folder: Path) -> None:
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    installed = folder / "installed"
    with zipfile.ZipFile(next(folder.glob("*.whl"))) as wheel:
        wheel.extractall(installed)

    program = (
        "from drywind import config as c; print(c.__file__, c.example_text(), sep='\\n', end='')"
    )
    shown = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PYTHONPATH": str(installed)},
        check=True,
        capture_output=True,
        encoding="utf-8",
    ).stdout

    text = (ROOT / "config.example.toml").read_text(encoding="utf-8")
    assert example_text() == text
    assert shown == f"{installed}/drywind/config/__init__.py\n{text}"


def test_reading_the_configuration_loads_no_numerics_and_no_delivery() -> None:
    program = (
        "import sys; from pathlib import Path; from drywind.config import load;"
        f"load(Path('drywind.toml'), {ENV!r});"
        "print({'numpy', 'pandas', 'metpy', 'apprise', 'httpx', 'sqlite3'} & sys.modules.keys())"
    )
    Path("drywind.toml").write_text(GOOD, encoding="utf-8")

    shown = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)

    assert shown.stdout == b"set()\n"
