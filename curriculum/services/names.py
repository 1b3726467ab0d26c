"""Names that tell one row from another."""

from django.utils.translation import gettext as _

from curriculum.models import Activity, LearningCentre, Material, Theme
from provider.desk import Desk
from provider.errors import DomainError

Named = Activity | LearningCentre | Material | Theme


def refuse_taken_name(desk: Desk, model: type[Named], name: str, row: Named | None = None) -> None:
    """Refuse a name that another row of the provider has, whatever its capitals."""
    others = model._default_manager.filter(provider=desk.provider, name__iexact=name)
    if row is not None:
        others = others.exclude(pk=row.pk)
    if others.exists():
        raise DomainError(_("You already have one called “%(name)s”.") % {"name": name}, field="name")
