"""The letter to families about a run: the owner's words, the wish list, and sending it once to every family."""

from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from curriculum.models import Acquisition, How, Keeping, LetterWord, ThemeRun, WishItem
from curriculum.selectors.letters import SENT, families_of, letters_of
from curriculum.services.materials import acquire
from curriculum.services.runs import refuse_voided_run
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import FamilyNotice, NoticeDelivery, Provider, User
from provider.services.notices import enqueue, insert_notice


def write_words(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    run: ThemeRun,
    language: str,
    version: int,
    opening: str = "",
    books: str = "",
    closing: str = "",
) -> LetterWord:
    """Set the owner's words in one language. `version` is 0 for words that are not there yet."""
    with writing(provider, actor) as desk:
        refuse_voided_run(run)
        row = LetterWord.objects.filter(run=run, language=language).first()
        row = desk.fresh(row, version) if row else LetterWord(provider=desk.provider, run=run, language=language)
        row.opening, row.books, row.closing = opening, books, closing
        return desk.save(row, verb="change" if row.pk else "write")


def send_letter(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    submission_key: str = "",
    run: ThemeRun,
) -> list[FamilyNotice]:
    """Send the letter to every family with a place when the run begins, or today once it has begun.

    Each household gets it in its language, by one e-mail and at its own door. Raises DomainError when no family has
    a place then. A form that was posted twice sends nothing twice.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, FamilyNotice):
            return [earlier]
        refuse_voided_run(run)
        families = families_of(run, today)
        if not families:
            raise DomainError(_("No family has a place during this run."))
        languages = list(dict.fromkeys(each.household.language for each in families))
        notices: list[FamilyNotice] = []
        deliveries: list[NoticeDelivery] = []
        for letter in letters_of(run, languages):
            notice, copies = insert_notice(
                desk,
                day=today,
                subject=letter.subject[:120],
                text=letter.text,
                now=now,
                households=[each for each in families if each.household.language == letter.language],
            )
            notices.append(notice)
            deliveries += copies
        told = ngettext("Sent the letter to %(count)d family", "Sent the letter to %(count)d families", len(families))
        desk.audit(SENT, run, told % {"count": len(families)})
        desk.done(submission_key, notices[0])
    enqueue(deliveries)
    return notices


def add_wish(
    *, provider: Provider, actor: User | None, today: date, submission_key: str = "", run: ThemeRun, text: str
) -> WishItem:
    """Add a clean odd or end that families may bring."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, WishItem):
            return earlier
        refuse_voided_run(run)
        wish = desk.save(WishItem(provider=desk.provider, run=run, text=text), verb="wish")
        desk.done(submission_key, wish)
        return wish


def remove_wish(*, provider: Provider, actor: User | None, today: date, wish: WishItem, version: int) -> WishItem:
    """Take a wish off the list; what arrived for it stays in stock."""
    with writing(provider, actor) as desk:
        wish = desk.fresh(wish, version)
        if wish.voided_at is None:
            wish.voided_at = timezone.now()
            desk.save(wish, verb="take off", summary=_("Took %(wish)s off the wish list") % {"wish": wish})
        return wish


def receive_wish(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    wish: WishItem,
    on: date,
    name: str,
    quantity: Decimal,
    keeping: str = Keeping.CONSUMABLE,
    source: str = "",
    estimated_value: Decimal | None = None,
) -> Acquisition:
    """Record what a family brought for a wish, as a given lot without a cost. Several families may bring the same."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Acquisition):
            return earlier
        wish = _still_wished(desk, wish)
        if on > today:
            raise DomainError(_("This day has not come yet."), field="on")
        lot = acquire(
            desk,
            material=name,
            on=on,
            how=How.GIVEN,
            quantity=quantity,
            keeping=keeping,
            source=source,
            estimated_value=estimated_value,
            note=_("For the wish: %(wish)s") % {"wish": wish},
        )
        wish.material, wish.arrived_on = lot.material, on
        desk.save(wish)
        desk.done(submission_key, lot)
        return lot


def _still_wished(desk: Desk, wish: WishItem) -> WishItem:
    wish = WishItem.objects.get(pk=wish.pk, provider=desk.provider)
    if wish.voided_at:
        raise DomainError(_("This wish is no longer on the list."))
    return wish
