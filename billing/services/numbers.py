"""Running numbers without gaps, per provider, series and year."""

from billing.models import NumberCounter, Series
from provider.desk import Desk


def take_numbers(desk: Desk, series: Series, year: int, count: int) -> range:
    """The next `count` numbers. The desk holds the provider's row, so nobody else counts at the same time.

    A transaction that fails takes its numbers back with it: they are given again, and no gap stays.
    """
    counter, _created = NumberCounter.objects.get_or_create(provider=desk.provider, series=series, year=year)
    first = counter.last + 1
    counter.last += count
    counter.save(update_fields=["last"])
    return range(first, counter.last + 1)
