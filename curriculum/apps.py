from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from django.apps import AppConfig
from django.core.checks import register
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from provider.doors import MonthTheme, RunChoice
    from provider.ical import Entry
    from provider.models import Provider
    from provider.periods import DateSpan


class CurriculumConfig(AppConfig):
    name = "curriculum"
    verbose_name = _("Themes and materials")

    def ready(self) -> None:
        from curriculum.checks import rule_files
        from curriculum.notices import cleaning_due, pieces_missing, recalls_due
        from curriculum.services.making import forget_marked_pieces
        from curriculum.services.observations import BLANK
        from curriculum.services.work import note_run
        from provider.doors import (
            blanks,
            feed_events,
            forgetters,
            notices,
            runs_to_work_for,
            theme_of_day,
            work_recorded,
        )

        register(rule_files)
        feed_events.append(_theme_entries)
        theme_of_day.append(_theme_of_day)
        runs_to_work_for.append(_runs_to_work_for)
        work_recorded.append(note_run)
        blanks.append(BLANK)
        forgetters.append(forget_marked_pieces)
        notices.extend([cleaning_due, recalls_due, pieces_missing])


def _theme_of_day(provider: "Provider", day: date) -> "MonthTheme | None":
    from django.urls import reverse

    from curriculum.selectors.runs import run_on
    from provider.doors import MonthTheme

    run = run_on(provider, day)
    if run is None:
        return None
    return MonthTheme(run.theme.name, run.theme.hue, reverse("curriculum:run", args=[provider.slug, run.public_id]))


def _runs_to_work_for(provider: "Provider", day: date) -> "Iterable[RunChoice]":
    from curriculum.selectors.runs import runs_to_prepare
    from provider.doors import RunChoice

    return [RunChoice(run.public_id, run.theme.name) for run in runs_to_prepare(provider, day)]


def _theme_entries(provider: "Provider", span: "DateSpan", today: date) -> "Iterable[Entry]":
    from curriculum.selectors.runs import runs_between
    from provider.ical import Entry

    return [
        Entry("theme", run.public_id, run.theme.name, run.span, run.version - 1) for run in runs_between(provider, span)
    ]
