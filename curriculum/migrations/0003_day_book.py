import django.db.models.deletion
import provider.models.base
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('curriculum', '0002_initial'),
        ('provider', '0002_day_book'),
    ]

    operations = [
        migrations.CreateModel(
            name='Observation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('day', models.DateField()),
                ('goal', models.CharField(blank=True, max_length=40)),
                ('text', models.TextField()),
                ('for_family', models.BooleanField(default=False)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('child', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='observations', to='provider.child')),
                ('photo', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.storedfile')),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
                ('run', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='observations', to='curriculum.themerun')),
            ],
            options={
                'indexes': [models.Index(fields=['provider', 'day'], name='observation_by_day')],
            },
        ),
    ]
