"""The letter to families about a run: its words, its wish list, and sending it."""

from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _

from curriculum.forms.letters import ArrivedForm, WishForm, WordsForm
from curriculum.models import LetterWord, Material, ThemeRun, WishItem
from curriculum.selectors import letters as selectors
from curriculum.services import letters as services
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.clock import now
from provider.documents import page_pdf
from provider.forms.base import DeskForm
from provider.models import Language
from provider.views.pages import act, pdf_response, show_form

OFFERED = 1000  # names to choose from; any other name can be typed
RUNS = ThemeRun.objects.live().select_related("theme", "provider")
WISHES = WishItem.objects.filter(voided_at__isnull=True, run__voided_at__isnull=True).select_related(
    "run__theme", "run__provider", "material"
)


@scoped(OWNER)
def letter(request: ScopedRequest, run: str) -> HttpResponse:
    """What the letter says and whom it reaches; posting sends it."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = DeskForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.send_letter(**visit.writer, now=now(), run=row, **form.values()),
            done=_("The letter is on its way to the families."),
            go=lambda _notices: _letter_url(row),
        )
        if response:
            return response
    receivers = selectors.receivers_of(row, visit.today)
    letters = selectors.letters_of(row, [each.language for each in receivers])
    context = {
        "run": row,
        "receivers": receivers,
        "letter": letters[0],
        "names": selectors.names_in(visit.provider, (each.text for each in letters)),
        "wishes": selectors.wishes_of(row),
        "thanks": selectors.thanks_of(row),
        "sent": selectors.sent_letters(visit.provider, row)[:10],
        "families": sum(len(each.families) for each in receivers),
    }
    return show_form(request, "curriculum/plans/letter.html", form, **context)


@scoped(OWNER)
def letter_pdf(request: ScopedRequest, run: str, language: str) -> HttpResponse:
    row = own(RUNS, request.visit.provider, run)
    said = _language(language)
    found = selectors.letter_of(row, said)
    with translation.override(said):
        pdf = page_pdf(
            "curriculum/documents/letter.html",
            title=found.subject,
            issuer=row.provider.name,
            style="curriculum/letter.css",
            letter=found,
            provider=row.provider,
        )
    return pdf_response(pdf, f"letter-{row.start:%Y-%m}-{said.value}.pdf")


@scoped(OWNER)
def letter_words(request: ScopedRequest, run: str, language: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    said = _language(language)
    words = LetterWord.objects.filter(run=row, language=said).first()
    initial = WordsForm.of(words) if words else {"version": 0}
    form = WordsForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.write_words(
                **visit.writer,
                run=row,
                language=said,
                version=form.cleaned_data["version"] or 0,
                **form.values("submission_key"),
            ),
            done=_("Your words were saved."),
            go=lambda _row: _letter_url(row),
        )
        if response:
            return response
    context = {
        "title": _("Your words in the letter: %(language)s") % {"language": said.label},
        "submit": _("Save the words"),
        "back": (_letter_url(row), _("Letter to families")),
    }
    return show_form(request, "provider/form_page.html", form, **context)


@scoped(OWNER)
def add_wish(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = WishForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_wish(**visit.writer, run=row, **form.values()),
            done=_("The wish is on the list."),
            go=lambda _row: _letter_url(row),
        )
        if response:
            return response
    context = {
        "title": _("Add a wish"),
        "lead": _(
            "Clean odds and ends. What comes is looked at like anything second hand before children play with it."
        ),
        "submit": _("Add the wish"),
        "back": (_letter_url(row), _("Letter to families")),
    }
    return show_form(request, "provider/form_page.html", form, **context)


@scoped(OWNER)
def receive_wish(request: ScopedRequest, wish: str) -> HttpResponse:
    """What a family brought goes into stock as given."""
    visit = request.visit
    row = own(WISHES, visit.provider, wish)
    initial = {"on": visit.today, "name": row.material.name if row.material else row.text}
    form = ArrivedForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.receive_wish(**visit.writer, wish=row, **form.values()),
            done=_("It is in stock as given. Look at it before children play with it."),
            go=lambda _lot: _letter_url(row.run),
        )
        if response:
            return response
    known = Material.objects.filter(provider=visit.provider).order_by("name").values_list("name", flat=True)
    context = {
        "title": _("It came: %(wish)s") % {"wish": row},
        "submit": _("Put it in stock"),
        "back": (_letter_url(row.run), _("Letter to families")),
        "known": known[:OFFERED],
        "list": "known-materials",
    }
    return show_form(request, "curriculum/plans/name_form.html", form, **context)


@scoped(OWNER)
def remove_wish(request: ScopedRequest, wish: str) -> HttpResponse:
    visit = request.visit
    row = own(WISHES, visit.provider, wish)
    form = DeskForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.remove_wish(**visit.writer, wish=row, version=form.cleaned_data["version"]),
            done=_("The wish is off the list."),
            go=lambda _row: _letter_url(row.run),
        )
        if response:
            return response
    context = {
        "title": _("Take “%(wish)s” off the list?") % {"wish": row},
        "submit": _("Take it off"),
        "danger": True,
        "back": (_letter_url(row.run), _("Letter to families")),
    }
    return show_form(request, "provider/form_page.html", form, **context)


def _letter_url(run: ThemeRun) -> str:
    return reverse("curriculum:letter", args=[run.provider.slug, run.public_id])


def _language(code: str) -> Language:
    if code not in Language.values:
        raise Http404(_("No such page."))
    return Language(code)
