"""What a roster is compared with."""

from datetime import date

from provider.models import Child, Country, Household, PeriodLock, Provider
from provider.periods import DateSpan
from provider.roster import Known, PlannedRow, Roster, Table, plan, read_roster


def known_families(provider: Provider) -> Known:
    """Three queries."""
    names = Household.objects.filter(provider=provider).values_list("name", flat=True)
    children = Child.objects.filter(provider=provider).values_list("household__name", "name", "birth_date")
    locks = PeriodLock.objects.filter(provider=provider, lifted_at__isnull=True).values_list("start", "end")
    return Known(
        frozenset(name.casefold() for name in names),
        {(family.casefold(), name.casefold()): born for family, name, born in children},
        tuple(DateSpan(start, end) for start, end in locks),
    )


def roster_plan(provider: Provider, table: Table, today: date) -> tuple[Roster, list[PlannedRow]]:
    """What every row of the file will do. Raises UnreadableRoster. Three queries."""
    roster = read_roster(table, month_first=provider.country == Country.US, today=today)
    return roster, plan(roster, known_families(provider))
