"""Boxes, drawers and shelves with labels of their own."""

from datetime import date

from django.utils.translation import gettext as _

from curriculum.models import Bin
from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Provider, User


def add_bin(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    label: str,
    room: str = "",
    shelf: str = "",
    note: str = "",
) -> Bin:
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Bin):
            return earlier
        _refuse_taken_label(desk, label)
        row = desk.save(Bin(provider=desk.provider, label=label, room=room, shelf=shelf, note=note), verb="add")
        desk.done(submission_key, row)
        return row


def change_bin(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    bin: Bin,
    version: int,
    label: str,
    room: str = "",
    shelf: str = "",
    note: str = "",
) -> Bin:
    with writing(provider, actor) as desk:
        bin = desk.fresh(bin, version)
        _refuse_taken_label(desk, label, bin)
        bin.label, bin.room, bin.shelf, bin.note = label, room, shelf, note
        return desk.save(bin, verb="change")


def bin_named(desk: Desk, label: str) -> Bin:
    """At the desk of another service: the bin with this label, whatever its capitals, or a new one."""
    same = Bin.objects.filter(provider=desk.provider, label__iexact=label.strip()).first()
    return same or desk.save(Bin(provider=desk.provider, label=label.strip()), verb="add")


def _refuse_taken_label(desk: Desk, label: str, row: Bin | None = None) -> None:
    others = Bin.objects.filter(provider=desk.provider, label__iexact=label)
    if row is not None:
        others = others.exclude(pk=row.pk)
    if others.exists():
        raise DomainError(_("You already have one called “%(name)s”.") % {"name": label}, field="label")
