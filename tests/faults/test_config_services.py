"""The keys of [weather] that say which services are asked, where, and by what right."""

from pathlib import Path

import pytest
from tests.faults.configuring import ENV, changed, faults, read

from drywind.config import OpenMeteo, Service

NWS, MET, OPEN_METEO = Service.NWS, Service.MET_NORWAY, Service.OPEN_METEO
KEY_GIVEN = "the key you were given"
ADDRESS = "an https:// address without user, query or fragment; http:// on this machine"
SERVICES = "a list of nws, met_norway, open_meteo, each at most once"
RIGHTS = "none, noncommercial, customer_key, self_hosted"
OWN = 'open_meteo = "self_hosted"\nopen_meteo_url = "http://127.0.0.1:8080"'
CANARY = "hunter2-CANARY"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Start each test in an empty folder that is also its home."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    return tmp_path


def weather(lines: str) -> str:
    """Return the good configuration with more lines in [weather]."""
    return changed("contact =", f"{lines}\ncontact =")


def test_unless_told_public_services_are_asked_at_their_own_addresses_and_open_meteo_is_not() -> (
    None
):
    """As the licenses are: those of the US and of Norway are open to a business."""
    found = read(weather("")).weather

    assert found.nws_url == "https://api.weather.gov"
    assert found.met_norway_url == "https://api.met.no/weatherapi"
    assert found.services == ()
    assert (found.open_meteo, found.open_meteo_url, found.open_meteo_key) == ("none", None, None)


def test_services_are_asked_in_the_order_they_are_written_in() -> None:
    assert read(weather('services = ["met_norway", "nws"]')).weather.services == (MET, NWS)


def test_addresses_lose_the_stroke_at_their_end() -> None:
    text = weather(f'{OWN[:-1]}/om/"\nmet_norway_url = "https://weather.test/met/"')

    found = read(text).weather

    assert found.met_norway_url == "https://weather.test/met"
    assert found.open_meteo_url == "http://127.0.0.1:8080/om"


@pytest.mark.parametrize(
    ("lines", "kind"),
    [
        ('open_meteo = "none"', OpenMeteo.NONE),
        ('open_meteo = "noncommercial"', OpenMeteo.NONCOMMERCIAL),
        ('open_meteo = "customer_key"\nopen_meteo_key = "k"', OpenMeteo.CUSTOMER_KEY),
        (OWN, OpenMeteo.SELF_HOSTED),
        (f'{OWN}\nopen_meteo_key = "k"', OpenMeteo.SELF_HOSTED),
    ],
)
def test_each_right_to_ask_open_meteo_goes_with_what_it_needs(lines: str, kind: OpenMeteo) -> None:
    found = read(weather(lines)).weather

    assert found.open_meteo is kind
    assert (found.open_meteo_key is not None) == ("key =" in lines)
    assert (found.open_meteo_url is not None) == ("url =" in lines)


NEEDS = {kind: f'is missing; open_meteo = "{kind}" needs one' for kind in OpenMeteo}
KEY_ONLY = "allowed only where open_meteo is customer_key or self_hosted"
URL_ONLY = "allowed only where open_meteo is self_hosted"
MAY_NOT = (
    "open_meteo may not be asked; say first, by the key open_meteo, that your use is not for a "
    "business, or that you have a key or a server of your own"
)
KEY, URL = f'open_meteo_key = "{CANARY}"', 'open_meteo_url = "https://om.test"'


@pytest.mark.parametrize(
    ("lines", "wrong"),
    [
        (KEY, {"open_meteo_key": KEY_ONLY}),
        (URL, {"open_meteo_url": URL_ONLY}),
        (f'open_meteo = "noncommercial"\n{KEY}', {"open_meteo_key": KEY_ONLY}),
        (f'open_meteo = "noncommercial"\n{URL}', {"open_meteo_url": URL_ONLY}),
        ('open_meteo = "customer_key"', {"open_meteo_key": NEEDS[OpenMeteo.CUSTOMER_KEY]}),
        (
            'open_meteo = "customer_key"\nopen_meteo_key = "  "',
            {"open_meteo_key": NEEDS[OpenMeteo.CUSTOMER_KEY]},
        ),
        (f'open_meteo = "customer_key"\n{KEY}\n{URL}', {"open_meteo_url": URL_ONLY}),
        ('open_meteo = "self_hosted"', {"open_meteo_url": NEEDS[OpenMeteo.SELF_HOSTED]}),
        ('services = ["nws", "open_meteo"]', {"services": MAY_NOT}),
        (
            f'services = ["open_meteo"]\n{KEY}\n{URL}',
            {"open_meteo_url": URL_ONLY, "open_meteo_key": KEY_ONLY, "services": MAY_NOT},
        ),
    ],
)
def test_what_does_not_go_together_gives_a_line_for_each_key_and_shows_no_key(
    lines: str, wrong: dict[str, str]
) -> None:
    found = faults(weather(lines))

    assert found == [f"drywind.toml: weather.{key}: {why}" for key, why in wrong.items()]


@pytest.mark.parametrize(
    ("line", "key", "shown", "allowed"),
    [
        ('services = ["nws", "noaa"]', "services#2", "'noaa'", SERVICES),
        ('services = "nws"', "services", "'nws'", SERVICES),
        ('services = { first = "nws" }', "services", "what is written", SERVICES),
        ('open_meteo = "business"', "open_meteo", "'business'", RIGHTS),
        ("open_meteo = true", "open_meteo", "True", RIGHTS),
        ('met_norway_url = "http://api.met.no"', "met_norway_url", "what is written", ADDRESS),
        ('met_norway_url = "api.met.no"', "met_norway_url", "'api.met.no'", ADDRESS),
        ('met_norway_url = "https://a@b.test"', "met_norway_url", "what is written", ADDRESS),
        (
            'open_meteo_url = "https://om.test?apikey=1"',
            "open_meteo_url",
            "what is written",
            ADDRESS,
        ),
        ('open_meteo_url = "http://192.168.1.5"', "open_meteo_url", "what is written", ADDRESS),
        (
            f'open_meteo_key = ["{CANARY}"]',
            "open_meteo_key",
            "what is written",
            KEY_GIVEN,
        ),
    ],
)
def test_a_value_that_cannot_be_used_gives_one_line_with_what_is_allowed(
    line: str, key: str, shown: str, allowed: str
) -> None:
    assert faults(weather(line)) == [
        f"drywind.toml: weather.{key}: {shown} cannot be used; allowed: {allowed}"
    ]


@pytest.mark.parametrize("key", ["31415926535", "3.1415926535"])
def test_a_key_of_digits_written_without_quotes_is_not_shown(key: str) -> None:
    [line] = faults(weather(f'open_meteo = "customer_key"\nopen_meteo_key = {key}'))

    assert key not in line


@pytest.mark.parametrize("key", [CANARY, "31415926535", "true", "[1]", '{"a": 1}', "null"])
def test_the_key_may_stand_in_the_environment_whatever_it_looks_like_and_is_never_printed(
    key: str,
) -> None:
    env = ENV | {"DRYWIND_WEATHER__OPEN_METEO_KEY": key}

    config = read(weather('open_meteo = "customer_key"'), env)

    assert config.weather.open_meteo_key is not None
    assert config.weather.open_meteo_key.get_secret_value() == key
    assert key not in f"{config!r} {config.weather} {config.weather.model_dump()}"


def test_the_environment_overrides_every_one_of_these_keys() -> None:
    prefix = "DRYWIND_WEATHER__"
    given = {
        "MET_NORWAY_URL": "http://127.0.0.1:1/met/",
        "OPEN_METEO": "self_hosted",
        "OPEN_METEO_URL": "http://127.0.0.1:1/om",
        "OPEN_METEO_KEY": "mine",
        "SERVICES": '["open_meteo", "met_norway"]',
    }
    text = weather('services = ["nws"]\nmet_norway_url = "https://weather.test"')

    found = read(text, ENV | {prefix + key: value for key, value in given.items()}).weather

    assert found.services == (OPEN_METEO, MET)
    assert found.met_norway_url == "http://127.0.0.1:1/met"
    assert (found.open_meteo, found.open_meteo_url) == ("self_hosted", "http://127.0.0.1:1/om")
    assert found.contact == "sawyer@yard.test"


@pytest.mark.parametrize(
    ("name", "value", "key", "shown", "allowed"),
    [
        ("OPEN_METEO", "business", "OPEN_METEO", "'business'", RIGHTS),
        ("MET_NORWAY_URL", "api.met.no", "MET_NORWAY_URL", "'api.met.no'", ADDRESS),
        ("SERVICES", '["noaa"]', "SERVICES", "'noaa'", SERVICES),
    ],
)
def test_a_wrong_value_in_the_environment_is_named_by_its_variable(
    name: str, value: str, key: str, shown: str, allowed: str
) -> None:
    assert faults(weather(""), ENV | {f"DRYWIND_WEATHER__{name}": value}) == [
        f"environment: DRYWIND_WEATHER__{key}: {shown} cannot be used; allowed: {allowed}"
    ]


@pytest.mark.parametrize(
    "value", ["nws,met_norway", "nws met_norway", "[nws, met_norway]", '["nws", "met_norway"]']
)
def test_services_in_the_environment_may_be_listed_as_people_list_things(value: str) -> None:
    config = read(weather(""), ENV | {"DRYWIND_WEATHER__SERVICES": value})

    assert config.weather.services == ("nws", "met_norway")


def test_a_right_that_is_wrong_because_of_the_environment_is_still_a_fault() -> None:
    env = ENV | {"DRYWIND_WEATHER__OPEN_METEO": "none"}

    assert faults(weather(OWN), env) == [f"drywind.toml: weather.open_meteo_url: {URL_ONLY}"]


@pytest.mark.parametrize(
    ("lines", "is_fault"),
    [
        ('nws_url = "http://127.0.0.1"', True),
        ('met_norway_url = "http://127.0.0.1"', True),
        ('nws_url = "http://127.0.0.1"\nmet_norway_url = "http://127.0.0.1"', False),
        ('nws_url = "http://127.0.0.1"\nservices = ["nws"]', False),
        ('met_norway_url = "http://127.0.0.1"\nservices = ["nws"]', True),
        (f'services = ["open_meteo"]\n{OWN}', False),
    ],
)
def test_an_address_that_reaches_nobody_will_do_only_where_no_public_service_is_asked(
    lines: str, is_fault: bool
) -> None:
    text = weather(lines).replace("sawyer@yard.test", "yard@example.com")

    if is_fault:
        [line] = faults(text)
        assert "weather.contact: example.com reaches nobody" in line
    else:
        assert read(text).weather.contact == "yard@example.com"
