from django.apps import AppConfig
from django.core.checks import register
from django.utils.translation import gettext_lazy as _


class ProviderConfig(AppConfig):
    name = "provider"
    verbose_name = _("The business")

    def ready(self) -> None:
        from provider.checks import rule_files
        from provider.doors import blanks, feed_events, notices
        from provider.notices import incidents_to_sign, papers_due, safety_due
        from provider.selectors.calendar import closure_entries, task_entries
        from provider.services.retention import BLANKS
        from provider.views.capacity import capacity_notices

        register(rule_files)
        blanks.extend(BLANKS)
        feed_events.extend([closure_entries, task_entries])
        notices.extend([capacity_notices, incidents_to_sign, safety_due, papers_due])
