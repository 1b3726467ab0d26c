

import provider.fields
import provider.models.base
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='Acquisition',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('on', models.DateField()),
                ('how', models.CharField(choices=[('bought', 'Bought'), ('second_hand', 'Bought second hand'), ('given', 'Given'), ('from_home', 'From the household'), ('made', 'Home-made')], max_length=12)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('basis', provider.fields.MoneyField(default=Decimal('0.00'))),
                ('residual', provider.fields.MoneyField(default=Decimal('0.00'))),
                ('expected_uses', models.PositiveSmallIntegerField(default=1, help_text='Runs it should last')),
                ('source', models.CharField(blank=True, help_text='Shop or donor', max_length=120)),
                ('note', models.TextField(blank=True)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='LearningCentre',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=80)),
                ('target_pieces', models.PositiveSmallIntegerField(default=0)),
                ('position', models.PositiveSmallIntegerField(default=0)),
            ],
            options={
                'verbose_name': 'learning centre',
            },
        ),
        migrations.CreateModel(
            name='Material',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('keeping', models.CharField(choices=[('durable', 'Durable: comes back every time'), ('consumable', 'Used up')], default='durable', max_length=10)),
                ('unit', models.CharField(default='piece', help_text='What one of it is called: piece, set, sheet', max_length=30)),
                ('place', models.CharField(blank=True, help_text='Room, shelf, bin', max_length=120)),
                ('note', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='Placement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='PutAway',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('on', models.DateField()),
                ('returned', provider.fields.ScaledField(default=Decimal('0'), places=3)),
                ('broken', provider.fields.ScaledField(default=Decimal('0'), places=3)),
                ('missing', provider.fields.ScaledField(default=Decimal('0'), places=3)),
                ('used_up', provider.fields.ScaledField(default=Decimal('0'), places=3)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='RunWork',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Theme',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=80)),
                ('hue', models.PositiveSmallIntegerField(default=150)),
                ('note', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='ThemeRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('start', models.DateField()),
                ('end', models.DateField()),
                ('budget', provider.fields.MoneyField(blank=True, null=True)),
                ('note', models.TextField(blank=True)),
            ],
        ),
    ]
