"""A family's erase request: blank what may be blanked, keep until its date what must be kept."""

from datetime import date
from typing import Any

from django.db.models import Case, F, Value, When
from django.db.models.functions import Concat, TruncYear
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from provider.desk import Desk, writing
from provider.doors import Blank, forgetters
from provider.errors import DomainError
from provider.guards import require_reason
from provider.models import (
    Attendance,
    AuditEntry,
    CareMoment,
    CareNeed,
    Child,
    Collector,
    DayNote,
    DoorPin,
    Dose,
    EmergencyContact,
    FamilyPaper,
    Guardian,
    Household,
    Incident,
    Medication,
    Membership,
    Provider,
    ProviderRow,
    StoredFile,
    User,
    WaitingChild,
)
from provider.selectors.retention import erasure
from provider.services.files import drop_paper

# What stands where a word must not be empty.
GONE = "–"


def _gone_if_said(field: str) -> Case:
    return Case(When(**{field: ""}, then=Value("")), default=Value(GONE))


BLANKS = (
    Blank(gettext_lazy("Notes on the household"), Household, "pk", {"note": ""}),
    Blank(
        gettext_lazy("The child's name in the playroom and its letters"),
        Child,
        "household",
        {"preferred_name": "", "label_letters": ""},
    ),
    Blank(gettext_lazy("Notes on the days"), DayNote, "child__household", {"text": GONE, "for_family": False}),
    Blank(gettext_lazy("Notes on sleep, bottles and diapers"), CareMoment, "child__household", {"note": ""}),
    Blank(
        gettext_lazy("Address, telephone and e-mail"),
        Household,
        "pk",
        {"address": "", "phone": "", "email": ""},
        "child_file",
    ),
    Blank(
        gettext_lazy("Telephone and e-mail of the guardians"),
        Guardian,
        "household",
        {"phone": "", "email": ""},
        "child_file",
    ),
    Blank(
        gettext_lazy("Physician and insurer"),
        Child,
        "household",
        {"physician": "", "health_insurer": ""},
        "child_file",
    ),
    Blank(gettext_lazy("Care needs"), CareNeed, "child__household", {"what": GONE, "action": ""}, "child_file"),
    Blank(
        gettext_lazy("Emergency contacts"),
        EmergencyContact,
        "child__household",
        {"name": GONE, "relation": "", "phone": GONE},
        "child_file",
    ),
    Blank(
        gettext_lazy("Who may collect"),
        Collector,
        "child__household",
        {"name": GONE, "relation": "", "phone": ""},
        "child_file",
    ),
    Blank(
        gettext_lazy("The wish on the waiting list"),
        WaitingChild,
        "child__household",
        {"child_name": GONE, "birth_date": None, "contact_name": GONE, "phone": "", "email": "", "note": ""},
        "child_file",
    ),
    Blank(
        gettext_lazy("Papers of the family"),
        FamilyPaper,
        "household",
        {"title": "", "note": ""},
        "child_file",
        files=("file",),
    ),
    Blank(
        gettext_lazy("Words and names on attendance"),
        Attendance,
        "child__household",
        {"absence": _gone_if_said("absence"), "note": "", "brought_by": "", "collected_by": ""},
        "attendance",
    ),
    Blank(
        gettext_lazy("The words of incident and illness reports"),
        Incident,
        "child__household",
        {
            "what": GONE,
            **dict.fromkeys(
                ("place", "first_aid", "told_whom", "told_how", "signed_by", "follow_up", "correction_reason"), ""
            ),
        },
        "incident",
    ),
    Blank(
        gettext_lazy("Medicine instructions"),
        Medication,
        "child__household",
        {"name": GONE, "reason": "", "signed_by": GONE},
        "medicine",
        files=("file",),
    ),
    Blank(
        gettext_lazy("Words on doses"),
        Dose,
        "medication__child__household",
        {"outside_because": _gone_if_said("outside_because"), "note": ""},
        "medicine",
    ),
    Blank(
        gettext_lazy("The names of the children, and their birth dates but for the year"),
        Child,
        "household",
        {"name": GONE, "birth_date": TruncYear("birth_date")},
        name=True,
    ),
    Blank(gettext_lazy("The names of the guardians"), Guardian, "household", {"name": GONE}, name=True),
    Blank(
        gettext_lazy("The name of the family"),
        Household,
        "pk",
        {"name": Concat(Value(f"{GONE} "), F("public_id"))},
        name=True,
    ),
)


class CannotErase(DomainError):
    """Something stands in the way: a place, money that is owed."""


def erase_family(
    *, provider: Provider, actor: User | None, today: date, household: Household, reason: str, submission_key: str = ""
) -> Household:
    """Blank what may be blanked of a family today, its logins and door PINs with it. May be repeated when more may go.

    What a rule keeps stays until its date, and the names with it, for a record of nobody is no record. The trail keeps
    who did what and when, without the values. Raises CannotErase while a place or a balance is open.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Household):
            return earlier
        household = Household.objects.select_related("provider").get(pk=household.pk, provider=desk.provider)
        require_reason(reason)
        plan = erasure(household, today)
        if plan.hindrances:
            raise CannotErase(" ".join(f"{each.what}: {each.because}" for each in plan.hindrances))
        for forget in forgetters:
            forget(desk, household)
        for blank in plan.blanked:
            _blank(desk, household, blank)
        if not plan.keeps_name:
            _forget_in_trail(household)
        _close_doors(household)
        Child.objects.filter(household=household, erased_at__isnull=True).update(erased_at=timezone.now())
        household.refresh_from_db()
        desk.audit("erase", household, _("Erased a family on its request: %(reason)s") % {"reason": reason.strip()})
        desk.done(submission_key, household)
        return household


def _blank(desk: Desk, household: Household, blank: Blank) -> None:
    rows: Any = blank.model._default_manager.filter(**{blank.family: household.pk}, provider=desk.provider)
    ids = list(rows.values_list("public_id", flat=True))
    papers = [pk for name in blank.files for pk in rows.values_list(name, flat=True) if pk]
    rows.update(**blank.fields, **dict.fromkeys(blank.files), version=F("version") + 1)
    stored = list(StoredFile.objects.filter(pk__in=papers))
    for paper in stored:
        drop_paper(desk, paper)
    trail = AuditEntry.objects.filter(provider=desk.provider)
    trail.filter(object_public_id__in=ids).update(changes={})
    # The trail tells the original name of a paper, and of what was blanked in its own words: an aunt, a medicine. The
    # names of the family itself stay there as long as anywhere else.
    told = [] if blank.model in (Household, Guardian, Child) else ids
    wordless = [*told, *(paper.public_id for paper in stored)]
    trail.filter(object_public_id__in=wordless).update(object_label=GONE, summary=GONE)


def _forget_in_trail(household: Household) -> None:
    """Take the words of every line about the family, or about anything that hangs from it in any room."""
    trail = AuditEntry.objects.filter(provider=household.provider)
    ways: list[Any] = [Household.objects.filter(pk=household.pk)]
    gone: set[Any] = set()
    while ways:
        rows = ways.pop()
        about = trail.filter(object_public_id__in=rows.values("public_id"))
        about.update(object_label=GONE, summary=GONE, changes={})
        for relation in rows.model._meta.get_fields(include_hidden=True):
            hangs = (relation.one_to_many or relation.one_to_one) and relation.auto_created and not relation.concrete
            if hangs and issubclass(relation.related_model, ProviderRow) and relation.field not in gone:
                gone.add(relation.field)
                ways.append(relation.related_model.objects.filter(**{f"{relation.field.name}__in": rows.values("pk")}))


def _close_doors(household: Household) -> None:
    """The family's logins and door PINs open nothing any longer."""
    DoorPin.objects.filter(guardian__household=household).delete()
    memberships = Membership.objects.filter(household=household)
    users = list(memberships.values_list("user", flat=True))
    memberships.delete()
    User.objects.filter(pk__in=users, memberships__isnull=True).update(is_active=False)
