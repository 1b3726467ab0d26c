"""Lots whose basis has to be worked out first: a set bought for one price, a thing from the household."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from curriculum.conversion import converted_basis
from curriculum.models import Acquisition, How, Material
from curriculum.services.materials import acquire
from provider.desk import writing
from provider.errors import DomainError
from provider.models import Provider, User
from provider.money import ZERO, format_money, split


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of thing in a set. `material` is a row or a name; `estimate` is what all of it would cost alone."""

    material: Material | str
    estimate: Decimal
    quantity: Decimal = Decimal(1)


def acquire_set(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    price: Decimal,
    parts: Sequence[Part],
    on: date,
    how: str = How.SECOND_HAND,
    expected_uses: int = 1,
    source: str = "",
    note: str = "",
) -> list[Acquisition]:
    """Add the lots of a set bought for one price, which is split over them by what each would cost alone.

    The parts' costs add up to `price` to the cent. A post repeated with its key gives the first lot only.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Acquisition):
            return [earlier]
        if how not in (How.BOUGHT, How.SECOND_HAND):
            raise DomainError(_("Only what was bought has a price to split."), field="how")
        if how == How.BOUGHT and not note.strip():
            raise DomainError(
                _("A bought lot comes from its receipt. If there is none, say in the note how you know the price."),
                field="note",
            )
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        if price < 0:
            raise DomainError(_("The cost cannot be negative."), field="price")
        if len(parts) < 2:
            raise DomainError(_("A set has at least two kinds of things."))
        names = [str(part.material).strip().casefold() for part in parts]
        if len(set(names)) < len(names):
            raise DomainError(_("Each kind of thing stands once in a set."))
        if any(part.estimate < 0 for part in parts) or not any(part.estimate for part in parts):
            raise DomainError(_("Say what each would cost alone, so that the price can be shared out."))
        costs = split(price, [part.estimate for part in parts])
        lots = [
            acquire(
                desk,
                material=part.material,
                on=on,
                how=how,
                quantity=part.quantity,
                basis=cost,
                expected_uses=expected_uses,
                source=source,
                note=_set_note(note, price, len(parts), part.estimate),
            )
            for part, cost in zip(parts, costs, strict=True)
        ]
        desk.done(submission_key, lots[0])
        return lots


def bring_from_home(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    material: Material,
    on: date,
    quantity: Decimal,
    cost: Decimal,
    fair_value: Decimal,
    expected_uses: int = 1,
    residual: Decimal = ZERO,
    note: str = "",
) -> Acquisition:
    """Add a lot that the household owned, at the basis that the country's rule gives; the note keeps the arithmetic.

    `cost` and `fair_value` (on the day it changed) are of all pieces together. Raises NoConversionRule.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Acquisition):
            return earlier
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        if min(cost, fair_value) < 0:
            raise DomainError(_("The cost cannot be negative."), field="cost")
        found = converted_basis(provider.country, cost, fair_value)
        said = _("Cost the household %(cost)s, worth %(value)s on %(day)s: basis %(basis)s (%(source)s).") % {
            "cost": format_money(cost),
            "value": format_money(fair_value),
            "day": date_format(on),
            "basis": format_money(found.basis),
            "source": found.rule.source,
        }
        lot = acquire(
            desk,
            material=material,
            on=on,
            how=How.FROM_HOME,
            quantity=quantity,
            basis=found.basis,
            residual=residual,
            expected_uses=expected_uses,
            note="\n".join(filter(None, (note.strip(), said))),
        )
        desk.done(submission_key, lot)
        return lot


def _set_note(note: str, price: Decimal, kinds: int, estimate: Decimal) -> str:
    said = _("From a set of %(kinds)d kinds for %(price)s; alone about %(estimate)s.") % {
        "kinds": kinds,
        "price": format_money(price),
        "estimate": format_money(estimate),
    }
    return "\n".join(filter(None, (note.strip(), said)))
