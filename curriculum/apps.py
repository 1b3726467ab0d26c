from datetime import date
from typing import TYPE_CHECKING

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

if TYPE_CHECKING:
    from provider.doors import MonthTheme
    from provider.models import Provider


class CurriculumConfig(AppConfig):
    name = "curriculum"
    verbose_name = _("Themes and materials")

    def ready(self) -> None:
        from provider.doors import theme_of_day

        theme_of_day.append(_theme_of_day)


def _theme_of_day(provider: "Provider", day: date) -> "MonthTheme | None":
    from django.urls import reverse

    from curriculum.selectors.runs import run_on
    from provider.doors import MonthTheme

    run = run_on(provider, day)
    if run is None:
        return None
    return MonthTheme(run.theme.name, run.theme.hue, reverse("curriculum:run", args=[provider.slug, run.public_id]))
