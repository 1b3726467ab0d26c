"""Work off the request path. Every handler may run twice: the second time it finds that nothing is left to do."""

import logging

from django_tasks import task

from provider.clock import now
from provider.models import NoticeDelivery

logger = logging.getLogger(__name__)


@task()
def deliver_notice(delivery: str) -> None:
    """Send one household's copy of a notice, by the public id of its delivery."""
    from provider.services.notices import deliver

    row = deliver(delivery=NoticeDelivery.objects.get(public_id=delivery), now=now())
    logger.info("notice delivery %s %s", row.public_id, "sent" if row.sent_at else "not sent")
