from typing import Any

from django.db import migrations


def move(apps: Any, _editor: Any) -> None:
    """What stood in one box becomes a care need: the first 200 letters name it, a longer text stays whole below."""
    child_model, need_model = apps.get_model("provider", "Child"), apps.get_model("provider", "CareNeed")
    for child in child_model.objects.exclude(allergies="").iterator():
        text = child.allergies.strip()
        if text:
            need_model.objects.create(
                provider_id=child.provider_id,
                child=child,
                kind="allergy",
                what=" ".join(text.split())[:200],
                action=text if len(text) > 200 else "",
                start=child.created_at.date(),
            )


class Migration(migrations.Migration):
    dependencies = [("provider", "0003_door")]

    operations = [migrations.RunPython(move, migrations.RunPython.noop)]
