from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ProviderConfig(AppConfig):
    name = "provider"
    verbose_name = _("The business")
