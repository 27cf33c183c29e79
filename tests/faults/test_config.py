"""What a configuration file may say, and the one line each fault in it gives."""

from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pydantic import SecretStr
from tests.faults.configuring import ENV, GOOD, changed, faults, read

from drywind.config import Channel, Contact, Policy, Topic, Weekday, load
from drywind.errors import ConfigError
from drywind.units import Units

CHICAGO = ZoneInfo("America/Chicago")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Start each test in an empty folder that is also its home."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    return tmp_path


ZONE = "an IANA time zone like America/Chicago"
FOLDER = "a folder for the program's own data"
REACH = "an e-mail address or web site at which the weather service can reach you"
SERVICE = "an https:// address without user, query or fragment; http:// on this machine"
HEIGHT = 'a height with its unit like "655 ft" or "200 m", up to 6000 m'
SHELTER = "0 to 1 for winds from N, NE, E, SE, S, SW, W, NW, like { NW = 0.4 }"
HEAR = 'a list of "warnings", "all_clear", "digest", "outlook"'
CLOCK = 'a local time like "05:30"'
QUIET = 'two different local times like "21:00-05:30"'
VARIABLE = "the name of a variable like DRYWIND_URL_ADA, never the address itself"
FILE = "the name of a file in secrets_dir like ada.url, never the address itself"
LATITUDE = "-90 to 90 degrees, north is positive"
HIDDEN = "what is written"
WEATHER = (
    "contact, nws_url, met_norway_url, open_meteo, open_meteo_url, open_meteo_key, services, "
    "refresh_minutes"
)
TABLES = "yard, weather, sites, contacts, policy, heartbeat, secrets_dir"
ADDRESS = "either url_env or url_file"
LOSS = "points of moisture content per day above 0, like { white_oak = 2.0 }"
YOUR_OWN = "put your own address: the weather service wants to reach you"


def test_the_least_configuration_takes_the_stated_defaults(folder: Path) -> None:
    config = read(GOOD)

    assert (config.yard_name, config.zone, config.units) == ("Yard", CHICAGO, Units.US)
    assert config.data_dir == folder / "state"
    assert config.weather.nws_url == "https://api.weather.gov"
    assert config.weather.refresh_minutes == 60
    assert config.policy == Policy(
        warn_hours_ahead=48,
        repeat_hours=72,
        all_clear_below=0.85,
        worse_step=0.25,
        daily_texts=4,
        digest_at=time(5, 30),
        outlook_day=Weekday.SUNDAY,
        least_chance=0.35,
        safe_loss={},
    )
    assert config.contacts == {
        "Ada": Contact(
            name="Ada",
            kind=Channel.TEXT,
            url=SecretStr("json://127.0.0.1/ada"),
            hear=frozenset({Topic.WARNINGS, Topic.ALL_CLEAR}),
            units=Units.US,
        )
    }


@pytest.mark.parametrize(
    ("kind", "hear", "expected"),
    [
        ("text", None, {Topic.WARNINGS, Topic.ALL_CLEAR}),
        ("email", None, set(Topic)),
        ("text", ["digest"], {Topic.DIGEST}),
        ("email", ["warnings", "outlook"], {Topic.WARNINGS, Topic.OUTLOOK}),
    ],
)
def test_a_mailbox_hears_all_and_a_phone_no_digests_unless_told(
    kind: str, hear: list[str] | None, expected: set[Topic]
) -> None:
    said = "" if hear is None else f"\nhear = {hear}"

    assert read(changed('kind = "text"', f'kind = "{kind}"{said}')).contacts["Ada"].hear == expected


@pytest.mark.parametrize("written", ['"06:45"', "06:45:00"])
def test_the_time_of_the_digest_is_text_or_a_time(written: str) -> None:
    policy = read(f"{GOOD}[policy]\ndigest_at = {written}\n").policy

    assert policy.digest_at == time(6, 45)


def test_data_goes_to_the_home_folder_unless_told(folder: Path) -> None:
    assert read(changed('data_dir = "state"\n', "")).data_dir == folder / ".local/share/drywind"


@pytest.mark.parametrize(("exposure", "roof"), [("open", False), ("shed", True), ("barn", True)])
def test_a_shed_and_a_barn_have_a_roof_unless_it_is_denied(exposure: str, roof: bool) -> None:
    with_exposure = changed('name = "lot"', f'name = "lot"\nexposure = "{exposure}"')
    denied = with_exposure.replace('name = "lot"', f'name = "lot"\nroof = {str(not roof).lower()}')

    assert read(with_exposure).sites["lot"].roof is roof
    assert read(denied).sites["lot"].roof is not roof


def test_a_site_is_rounded_to_what_weather_services_take_and_is_in_metres() -> None:
    site = read(changed("41.98", "41.980349")).sites["lot"]

    assert (site.lat, site.lon) == (41.9803, -87.9)
    assert site.altitude_m == pytest.approx(205.13, abs=0.01)


def test_blanks_around_a_name_are_not_part_of_it() -> None:
    assert set(read(changed('"lot"', '" gravel lot "')).sites) == {"gravel lot"}


def test_what_was_read_cannot_be_changed() -> None:
    config = read(GOOD + "[policy.safe_loss]\nwhite_oak = 2.0\n")

    for record, key in (
        (config, "units"),
        (config.weather, "nws_url"),
        (config.policy, "repeat_hours"),
        (config.contacts["Ada"], "url"),
    ):
        with pytest.raises((AttributeError, ValueError), match=r"frozen|cannot assign"):
            setattr(record, key, None)
    for table in (config.sites, config.contacts, config.policy.safe_loss):
        with pytest.raises(TypeError, match="does not support item assignment"):
            table["x"] = None  # type: ignore[index]


def name(longest: int) -> str:
    rest = "letters, digits, blanks or . , _ ' & ( ) # / + -, beginning with a letter or digit"
    return f"up to {longest} {rest}"


@pytest.mark.parametrize(
    ("old", "new", "key", "shown", "allowed"),
    [
        ("America/Chicago", "America", "yard.time_zone", "'America'", ZONE),
        ("America/Chicago", "Mars/Base", "yard.time_zone", "'Mars/Base'", ZONE),
        ('"Yard"', r'"two\nlines"', "yard.name", r"'two\nlines'", name(40)),
        ('"Yard"', '"=1+1"', "yard.name", "'=1+1'", name(40)),
        ('data_dir = "state"', 'units = "si"', "yard.units", "'si'", "us, metric"),
        ('"state"', '"~nobody-x"', "yard.data_dir", "'~nobody-x'", FOLDER),
        ("sawyer@yard.test", "sawyer", "weather.contact", "'sawyer'", REACH),
        ("sawyer@", r"a\nB: c@", "weather.contact", r"'a\nB: c@yard.test'", REACH),
        (
            "contact =",
            "refresh_minutes = 5\ncontact =",
            "weather.refresh_minutes",
            "5",
            "15 to 360 minutes",
        ),
        ("contact =", 'nws_url = "http://x"\ncontact =', "weather.nws_url", HIDDEN, SERVICE),
        ("contact =", 'nws_url = "x.org"\ncontact =', "weather.nws_url", "'x.org'", SERVICE),
        ("41.98", "95.0", "sites#1.lat", "95.0", LATITUDE),
        ("41.98", "nan", "sites#1.lat", "nan", LATITUDE),
        ("-87.9", "-187", "sites#1.lon", "-187", "-180 to 180 degrees, east is positive"),
        ('"673 ft"', "673", "sites#1.altitude", "673", HEIGHT),
        ('"673 ft"', '"9 ly"', "sites#1.altitude", "'9 ly'", HEIGHT),
        ('"lot"', '"~lot~"', "sites#1.name", "'~lot~'", name(16)),
        ('"lot"', '"the far gravel lot"', "sites#1.name", "'the far gravel lot'", name(16)),
        ("lat", 'exposure = "cave"\nlat', "sites#1.exposure", "'cave'", "open, shed, barn"),
        ("lat", "shelter = { NNW = 0.5 }\nlat", "sites#1.shelter.NNW", "'NNW'", SHELTER),
        ("lat", "shelter = { NW = 40 }\nlat", "sites#1.shelter.NW", "40", SHELTER),
        ("lat", "room = 0\nlat", "sites#1.room", "0", "how many stacks fit, 1 or more"),
        ('"text"', '"pager"', "contacts#1.kind", "'pager'", "text, email"),
        ("kind", 'hear = ["warning"]\nkind', "contacts#1.hear#1", "'warning'", HEAR),
        ("kind", "hear = []\nkind", "contacts#1.hear", HIDDEN, HEAR),
        *(
            ("kind", f'quiet_hours = "{x}"\nkind', "contacts#1.quiet_hours", f"'{x}'", QUIET)
            for x in ("9-5", "21:00-21:00", "21:00-25:00")
        ),
        ('"DRYWIND_URL_ADA"', '"ADA_URL"', "contacts#1.url_env", HIDDEN, VARIABLE),
        ("kind", 'url_file = "../ada"\nkind', "contacts#1.url_file", HIDDEN, FILE),
        ("[yard]", "policy.repeat_hours = 2\n[yard]", "policy.repeat_hours", "2", "6 to 168 hours"),
        *(
            ("[yard]", f"policy.{key} = {value}\n[yard]", f"policy.{key}", value, allowed)
            for key, value, allowed in (
                ("digest_at", "'5:30'", CLOCK),
                ("digest_at", "'24:00'", CLOCK),
                ("digest_at", "530", CLOCK),
                ("outlook_day", "'Sonntag'", "monday to sunday"),
                ("daily_texts", "0", "1 to 20"),
                ("daily_texts", "21", "1 to 20"),
                ("least_chance", "0.95", "0 to 0.9"),
            )
        ),
        ("[yard]", "policy.safe_loss.oak = 0\n[yard]", "policy.safe_loss.oak", "0", LOSS),
        ("[yard]", "policy.safe_loss.oak = inf\n[yard]", "policy.safe_loss.oak", "inf", LOSS),
    ],
)
def test_a_value_that_cannot_be_used_gives_one_line_with_what_is_allowed(
    old: str, new: str, key: str, shown: str, allowed: str
) -> None:
    assert faults(changed(old, new)) == [
        f"drywind.toml: {key}: {shown} cannot be used; allowed: {allowed}"
    ]


@pytest.mark.parametrize(
    ("old", "new", "wrong", "allowed"),
    [
        ("contact =", "#", "weather.contact: is missing", REACH),
        (
            "data_dir",
            "dat_dir",
            "yard.dat_dir: no such key, perhaps data_dir",
            "name, time_zone, units, data_dir",
        ),
        ("[weather]", "[polcy]\n[weather]", "polcy: no such key, perhaps policy", TABLES),
        (
            "contact =",
            "x = 1\ncontact =",
            "weather.x: no such key",
            WEATHER,
        ),
        ('url_env = "DRYWIND_URL_ADA"', "", "contacts#1: needs one address", ADDRESS),
        ("kind", 'url_file = "a"\nkind', "contacts#1: needs one address", ADDRESS),
    ],
)
def test_a_key_that_is_missing_or_misspelt_gives_one_line_with_what_is_allowed(
    old: str, new: str, wrong: str, allowed: str
) -> None:
    env = ENV if "DRYWIND_URL_ADA" in changed(old, new) else {}

    assert faults(changed(old, new), env) == [f"drywind.toml: {wrong}; allowed: {allowed}"]


@pytest.mark.parametrize(
    ("contact", "domain"),
    [
        ("yard@example.com", "example.com"),
        ("yard@Example.ORG", "Example.ORG"),
        ("yard@mail.example.net", "example.net"),
        ("mailto:yard@example.com", "example.com"),
        ("www.example.com", "example.com"),
        ("https://example.org/yard", "example.org"),
        ("https://example.net:8443", "example.net"),
    ],
)
def test_a_public_weather_service_is_not_given_an_address_that_reaches_nobody(
    contact: str, domain: str
) -> None:
    """RFC 2606, section 3: example.com, example.net and example.org belong to nobody."""
    text = changed("sawyer@yard.test", contact)
    here = 'nws_url = "http://127.0.0.1:8080"\nservices = ["nws"]'
    on_loopback = text.replace("contact =", f"{here}\ncontact =", 1)

    assert faults(text) == [f"drywind.toml: weather.contact: {domain} reaches nobody; {YOUR_OWN}"]
    assert read(on_loopback).weather.contact == contact


@pytest.mark.parametrize(
    "contact",
    [
        "yard@myexample.com",
        "yard@my-example.com",
        "yard@example.community",
        "yard@example.com.au",
        "example.com@yard.test",
        "https://yard.test/example.com",
    ],
)
def test_an_address_that_only_looks_like_an_example_is_accepted(contact: str) -> None:
    assert read(changed("sawyer@yard.test", contact)).weather.contact == contact


def test_two_sites_and_two_contacts_need_two_names() -> None:
    site = GOOD[GOOD.index("[[sites]]") : GOOD.index("[[contacts]]")]
    contact = GOOD[GOOD.index("[[contacts]]") :]

    assert faults(GOOD + site + contact) == [
        "drywind.toml: sites#2.name: 'lot' is taken; allowed: a name of its own",
        "drywind.toml: contacts#2.name: 'Ada' is taken; allowed: a name of its own",
    ]


def test_a_yard_without_a_site_is_a_fault() -> None:
    text = GOOD[: GOOD.index("[[sites]]")]

    line = "drywind.toml: sites: is missing; allowed: a [[sites]] table for each site"
    assert faults(text, {}) == [line]


def test_broken_toml_names_line_and_column() -> None:
    assert faults('[yard]\nname "Yard"\n') == [
        "drywind.toml: line 2, column 6: Expected '=' after a key in a key/value pair"
    ]


def test_text_without_quotes_is_told_how_it_is_written() -> None:
    [line] = faults(changed("contact =", "open_meteo = noncommercial\ncontact ="))

    assert line.startswith("drywind.toml: line ")
    assert line.endswith('Invalid value; text stands in quotes, like "gravel"')


def test_a_file_that_is_not_utf8_is_a_fault() -> None:
    Path("drywind.toml").write_bytes(b'[yard]\nname = "K\xf6hler"\n')

    with pytest.raises(ConfigError, match=r"^drywind\.toml: 'utf-8' codec can't decode"):
        load(Path("drywind.toml"), ENV)
