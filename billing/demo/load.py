"""Loading the example businesses, and taking them away again."""

import tomllib
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from django.apps import apps
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import models, transaction
from django.utils.translation import gettext as _

from billing.demo.books import Books, Data
from billing.demo.days import plan_days
from billing.demo.looking_back import plan_looking_back
from billing.demo.making import plan_making
from billing.demo.meals import plan_meals
from billing.demo.papers import plan_papers
from billing.demo.people import open_business
from billing.demo.playroom import plan_playroom
from billing.demo.shopping import plan_shopping
from billing.demo.tuition import plan_tuition
from provider.desk import writing
from provider.models import AuditEntry, Provider, StoredFile, User
from provider.services.demo_login import DEMO_SLUG

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "demo"
# Written last, so that it also tells a whole load from one that was broken off.
LOADED = "load example"


class LoadedInPart(Exception):
    """An earlier load was broken off."""


def read(slug: str) -> Data:
    """All facts of one business, from the files of its folder."""
    data: Data = {}
    for path in sorted((FOLDER / slug).glob("*.toml")):
        data |= tomllib.loads(path.read_text("utf-8"), parse_float=Decimal)
    return data


def slugs() -> list[str]:
    """The example businesses, the neighbours first."""
    found = sorted(path.name for path in FOLDER.iterdir() if path.is_dir())
    return sorted(found, key=lambda slug: slug == DEMO_SLUG)


def first_day() -> date:
    return max(read(slug)["records_from"] for slug in slugs())


def latest_day(now: datetime) -> date:
    """The day at the aware instant `now` that has begun for every example business."""
    zones = (ZoneInfo(read(slug)["business"]["time_zone"]) for slug in slugs())
    return min(now.astimezone(zone).date() for zone in zones)


def is_loaded() -> bool:
    """Whether all example businesses are there. Raises LoadedInPart."""
    examples = Provider.objects.filter(is_example=True)
    if not examples.exists():
        return False
    whole = AuditEntry.objects.filter(provider__in=examples, verb=LOADED).values_list("provider__slug", flat=True)
    if set(whole) != set(slugs()):
        raise LoadedInPart
    return True


def load(until: date) -> None:
    """Tell every business's story up to and with the day `until`. What was told is taken away when it breaks off."""
    try:
        for slug in slugs():
            _load(slug, until)
    except BaseException:
        clear()
        raise


def _load(slug: str, until: date) -> None:
    books = Books(slug, read(slug), until)
    open_business(books)
    plan_playroom(books)
    plan_shopping(books)
    plan_tuition(books)
    plan_days(books)
    plan_making(books)
    plan_meals(books)
    plan_looking_back(books)
    plan_papers(books)
    books.tell()
    with writing(books.provider, books.owner) as desk:
        desk.audit(LOADED, books.provider, _("Loaded the example up to %(day)s") % {"day": until})


def clear() -> None:
    """Take the example businesses away with all their rows, papers and logins. Real businesses are never touched."""
    examples = Provider.objects.filter(is_example=True)
    with transaction.atomic(durable=True):
        logins = set(
            User.objects.filter(memberships__provider__in=examples)
            .exclude(memberships__provider__is_example=False)
            .values_list("pk", flat=True)
        )
        names = list(StoredFile.objects.filter(provider__in=examples).values_list("file", flat=True))
        for model in _provider_models():
            _delete(model._default_manager.filter(provider__in=examples), _to_itself(model))
        examples.delete()
        User.objects.filter(pk__in=logins).delete()
        for name in names:
            transaction.on_commit(partial(default_storage.delete, name))


def _delete(rows: models.QuerySet[models.Model], to_itself: list[models.ForeignKey]) -> None:
    """Rows that others of their kind point at, in a chain of any length, go after those."""
    while rows.exists():
        pointed_at = {pk for field in to_itself for pk in rows.values_list(field.attname, flat=True) if pk}
        rows.exclude(pk__in=pointed_at).delete()


def _provider_models() -> Iterator[type[models.Model]]:
    """Every model whose rows belong to a provider, so that none comes before one that points at it."""
    waiting = {model for model in apps.get_models() if any(field.name == "provider" for field in _keys(model))}
    while waiting:
        pointed_at = {
            field.related_model for model in waiting for field in _keys(model) if field.related_model is not model
        }
        for model in [each for each in waiting if each not in pointed_at]:
            waiting.remove(model)
            yield model


def _keys(model: type[models.Model]) -> list[models.ForeignKey]:
    return [field for field in model._meta.concrete_fields if isinstance(field, models.ForeignKey)]


def _to_itself(model: type[models.Model]) -> list[models.ForeignKey]:
    return [field for field in _keys(model) if field.related_model is model]
