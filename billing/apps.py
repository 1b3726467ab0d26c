from django.apps import AppConfig
from django.core.checks import register
from django.utils.translation import gettext_lazy as _


class BillingConfig(AppConfig):
    name = "billing"
    verbose_name = _("Money in and out")

    def ready(self) -> None:
        from billing.checks import rule_files
        from billing.keeping import keep_money
        from billing.notices import month_to_issue, overdue_families
        from billing.selectors.agreements import bill_shares
        from billing.selectors.receipts import holds_paper
        from billing.selectors.theme_cost import cost_so_far
        from curriculum import hooks
        from provider.doors import guardian_facts, in_the_books, keepers, notices

        register(rule_files)
        in_the_books.append(holds_paper)
        keepers.append(keep_money)
        guardian_facts.append(bill_shares)
        hooks.cost_so_far.append(cost_so_far)
        notices.extend([month_to_issue, overdue_families])
