"""Public holidays of a place, from the `holidays` library. A province or state may have others for some employers."""

from datetime import date
from typing import NamedTuple

import holidays


class UnknownPlace(LookupError):
    """No holidays are known for this country or region."""


class Holiday(NamedTuple):
    day: date
    name: str


LANGUAGES = {"US": "en_US", "CA": "en_CA"}


def statutory_holidays(country: str, region: str, year: int, language: str = "") -> list[Holiday]:
    """The holidays of a calendar year in date order, with the days on which a weekend holiday is observed.

    `country` is `US` or `CA`, `region` its state or province by postal code ("" for those of the whole country),
    `language` a locale of the library such as `fr`; the country's English otherwise. Raises UnknownPlace.
    """
    try:
        found = holidays.country_holidays(
            country, subdiv=region or None, years=year, language=language or LANGUAGES.get(country)
        )
    except NotImplementedError as error:
        raise UnknownPlace(f"{country} {region}".strip()) from error
    return [Holiday(day, name) for day, name in sorted(found.items())]
