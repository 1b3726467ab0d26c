from django.db import migrations


class Migration(migrations.Migration):
    # Apart from the move itself: PostgreSQL alters no table while rows that point at it wait for their check.
    dependencies = [("provider", "0004_allergies_become_care_needs")]

    operations = [migrations.RemoveField("child", "allergies")]
