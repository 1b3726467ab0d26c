import django.db.models.deletion
import provider.models.base
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('billing', '0002_initial'),
        ('provider', '0002_day_book'),
    ]

    operations = [
        migrations.AddField(
            model_name='taxyear',
            name='counts_preparation',
            field=models.BooleanField(blank=True, help_text="Hours of work without children count; empty is the country's default", null=True),
        ),
        migrations.CreateModel(
            name='FoodProgramme',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('tier', models.PositiveSmallIntegerField(choices=[(1, 'Tier I'), (2, 'Tier II')])),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, null=True)),
                ('claims_own_children', models.BooleanField(default=False, help_text="Only when the provider's own household is income-eligible")),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('provider', 'start'), name='food_programme_one_start'), models.CheckConstraint(condition=models.Q(('tier__in', [1, 2])), name='food_programme_tier_known'), models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='food_programme_span')],
            },
        ),
    ]
