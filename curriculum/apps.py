from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class CurriculumConfig(AppConfig):
    name = "curriculum"
    verbose_name = _("Themes and materials")
