from django.apps import AppConfig
from django.core.checks import register
from django.utils.translation import gettext_lazy as _


class BillingConfig(AppConfig):
    name = "billing"
    verbose_name = _("Money in and out")

    def ready(self) -> None:
        from billing.checks import rule_files
        from billing.notices import month_to_issue, overdue_families
        from provider.doors import notices

        register(rule_files)
        notices.extend([month_to_issue, overdue_families])
