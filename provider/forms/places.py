"""States, provinces and time zones of the two countries, for choices."""

import zoneinfo
from functools import cache

from django.utils.translation import gettext_lazy as _

from provider.models import Country

REGIONS: dict[str, dict[str, str]] = {
    Country.US: {
        "AL": "Alabama",
        "AK": "Alaska",
        "AZ": "Arizona",
        "AR": "Arkansas",
        "CA": "California",
        "CO": "Colorado",
        "CT": "Connecticut",
        "DE": "Delaware",
        "DC": "District of Columbia",
        "FL": "Florida",
        "GA": "Georgia",
        "HI": "Hawaii",
        "ID": "Idaho",
        "IL": "Illinois",
        "IN": "Indiana",
        "IA": "Iowa",
        "KS": "Kansas",
        "KY": "Kentucky",
        "LA": "Louisiana",
        "ME": "Maine",
        "MD": "Maryland",
        "MA": "Massachusetts",
        "MI": "Michigan",
        "MN": "Minnesota",
        "MS": "Mississippi",
        "MO": "Missouri",
        "MT": "Montana",
        "NE": "Nebraska",
        "NV": "Nevada",
        "NH": "New Hampshire",
        "NJ": "New Jersey",
        "NM": "New Mexico",
        "NY": "New York",
        "NC": "North Carolina",
        "ND": "North Dakota",
        "OH": "Ohio",
        "OK": "Oklahoma",
        "OR": "Oregon",
        "PA": "Pennsylvania",
        "RI": "Rhode Island",
        "SC": "South Carolina",
        "SD": "South Dakota",
        "TN": "Tennessee",
        "TX": "Texas",
        "UT": "Utah",
        "VT": "Vermont",
        "VA": "Virginia",
        "WA": "Washington",
        "WV": "West Virginia",
        "WI": "Wisconsin",
        "WY": "Wyoming",
    },
    Country.CANADA: {
        "AB": "Alberta",
        "BC": "British Columbia",
        "MB": "Manitoba",
        "NB": "New Brunswick",
        "NL": "Newfoundland and Labrador",
        "NT": "Northwest Territories",
        "NS": "Nova Scotia",
        "NU": "Nunavut",
        "ON": "Ontario",
        "PE": "Prince Edward Island",
        "QC": "Quebec",
        "SK": "Saskatchewan",
        "YT": "Yukon",
    },
}

# The zones that most people there live in; the full list follows them.
USUAL_ZONES = (
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Phoenix",
    "America/Los_Angeles",
    "America/Anchorage",
    "Pacific/Honolulu",
    "America/Toronto",
    "America/Winnipeg",
    "America/Regina",
    "America/Edmonton",
    "America/Vancouver",
    "America/Halifax",
    "America/St_Johns",
    "America/Whitehorse",
)

Choices = list[tuple[object, object]]


def region_choices(country: str | None = None) -> Choices:
    """Regions of one country, or of both under their names."""
    if country:
        return [("", _("Choose")), *REGIONS[country].items()]
    return [("", _("Choose")), *((Country(code).label, list(names.items())) for code, names in REGIONS.items())]


@cache
def zone_choices() -> Choices:
    """Usual zones first, then every other place of the world's list."""
    others = sorted(
        name
        for name in zoneinfo.available_timezones()
        if "/" in name and not name.startswith(("Etc/", "SystemV/", "posix/", "right/")) and name not in USUAL_ZONES
    )

    def words(name: str) -> tuple[str, str]:
        area, _slash, place = name.rpartition("/")
        return name, f"{place} ({area})".replace("_", " ")

    return [
        ("", _("Choose")),
        (_("United States and Canada"), [words(name) for name in USUAL_ZONES]),
        (_("Elsewhere"), [words(name) for name in others]),
    ]
