"""The letter to families about a run, in one language, and the wish list in it. No child is named in it."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _

from curriculum.models import Acquisition, How, LetterWord, ThemeRun, WishItem
from curriculum.selectors.plans import plan_of
from provider.models import AuditEntry, Child, Language, Provider
from provider.selectors.notices import Reached, families_on

GOALS_AT_MOST = 4  # of a centre, so that the letter stays one page
SENT = "send the letter"


@dataclass(frozen=True, slots=True)
class LetterCentre:
    """A centre in the letter: what the children do there, and what they practise by it."""

    name: str
    activities: tuple[str, ...]
    goals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter in one language. `subject` and `text` are what goes out by e-mail."""

    language: str
    run: ThemeRun
    words: LetterWord | None
    centres: tuple[LetterCentre, ...]
    wishes: tuple[str, ...]

    @property
    def books(self) -> list[str]:
        lines = self.words.books.splitlines() if self.words else []
        return [line.strip() for line in lines if line.strip()]

    @property
    def subject(self) -> str:
        with translation.override(self.language):
            return _("What we do next: %(theme)s") % {"theme": self.run.theme.name}

    @property
    def text(self) -> str:
        with translation.override(self.language):
            return render_to_string("curriculum/documents/letter.txt", {"letter": self}).strip()


def letter_of(run: ThemeRun, language: str) -> Letter:
    return letters_of(run, [language])[0]


def letters_of(run: ThemeRun, languages: Collection[str]) -> list[Letter]:
    """The letter in each of the languages. Nine queries at most."""
    words = {row.language: row for row in LetterWord.objects.filter(run=run)}
    wishes = tuple(wish.text for wish in wishes_of(run) if wish.arrived_on is None)
    plan = plan_of(run)
    letters = []
    for language in languages:
        with translation.override(language):
            centres = tuple(
                LetterCentre(
                    each.centre.name,
                    tuple(view.planned.activity.name for view in each.activities),
                    # Main goals come first, so that what is left out of a full centre is what matters less.
                    _first(
                        [
                            _(goal.title)
                            for is_main in (True, False)
                            for view in each.activities
                            for goal in view.goals
                            if goal.is_main == is_main
                        ]
                    ),
                )
                for each in plan
                if each.centre and each.activities
            )
        letters.append(Letter(language, run, words.get(language), centres, wishes))
    return letters


def _first(titles: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(titles))[:GOALS_AT_MOST]


def wishes_of(run: ThemeRun) -> QuerySet[WishItem]:
    """The wish list; what arrived comes last."""
    wishes = WishItem.objects.filter(run=run, voided_at__isnull=True).select_related("material")
    return wishes.order_by("arrived_on", "pk")


def thanks_of(run: ThemeRun) -> QuerySet[Acquisition]:
    """What families brought for the wishes of a run, by day: a list of those to thank."""
    wished = WishItem.objects.filter(run=run, voided_at__isnull=True, arrived_on__isnull=False)
    lots = Acquisition.objects.filter(
        provider=run.provider, how=How.GIVEN, voided_at__isnull=True, material__in=wished.values("material")
    )
    first = wished.order_by("arrived_on").values_list("created_at", flat=True).first()
    since = Q(created_at__gte=first) if first else Q(pk__in=())
    return lots.filter(since).exclude(source="").select_related("material").order_by("on", "pk")


@dataclass(frozen=True, slots=True)
class Receivers:
    """Whom the letter reaches, by language: households with an address, and those without."""

    language: Language
    words: LetterWord | None
    families: tuple[Reached, ...]

    @property
    def without(self) -> list[Reached]:
        return [each for each in self.families if not each.addresses]


def families_of(run: ThemeRun, today: date) -> list[Reached]:
    """Households with a place on the first day of the run, or today when it has begun."""
    return families_on(run.provider, max(today, run.start))


def receivers_of(run: ThemeRun, today: date) -> list[Receivers]:
    """Each language with its words and its families; English also without families. Three queries."""
    words = {row.language: row for row in LetterWord.objects.filter(run=run)}
    families = families_of(run, today)
    return [
        Receivers(
            language,
            words.get(language),
            tuple(each for each in families if each.household.language == language),
        )
        for language in Language
    ]


def names_in(provider: Provider, texts: Iterable[str]) -> list[str]:
    """Names of children that stand in a text, each once. One query."""
    letters = (letter if letter.isalpha() else " " for letter in " ".join(texts).casefold())
    words = set("".join(letters).split())
    names = {name.split()[0] for row in Child.objects.filter(provider=provider) for name in (row.name, str(row))}
    return sorted(name for name in names if name.casefold() in words)


def sent_letters(provider: Provider, run: ThemeRun) -> QuerySet[AuditEntry]:
    """When the letter went out, the latest first."""
    return AuditEntry.objects.filter(provider=provider, verb=SENT, object_public_id=run.public_id).order_by("-pk")
