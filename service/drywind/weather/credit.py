"""What is owed to each service beside anything made of its data."""

from collections.abc import Mapping
from types import MappingProxyType

CREDIT: Mapping[str, str] = MappingProxyType(
    {
        "nws": "Forecast: US National Weather Service",
        "met_norway": "Forecast: based on data from MET Norway (met.no), CC BY 4.0, interpolated",
        "open_meteo": "Forecast: weather data by Open-Meteo.com, CC BY 4.0",
    }
)
"""By source; no service endorses what is made of its forecast."""


def credit(source: str) -> str:
    """Return the words owed to a source."""
    return CREDIT.get(source, f"Forecast: {source}")
