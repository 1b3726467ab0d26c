

import django.db.models.deletion
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('curriculum', '0001_initial'),
        ('provider', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='acquisition',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='learningcentre',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='material',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='acquisition',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='placement',
            name='centre',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='curriculum.learningcentre'),
        ),
        migrations.AddField(
            model_name='placement',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='placement',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='putaway',
            name='placement',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='put_away', to='curriculum.placement'),
        ),
        migrations.AddField(
            model_name='putaway',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='runwork',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='runwork',
            name='work',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='run_work', to='provider.workentry'),
        ),
        migrations.AddField(
            model_name='theme',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='themerun',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='themerun',
            name='theme',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='curriculum.theme'),
        ),
        migrations.AddField(
            model_name='runwork',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='work', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='placement',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='curriculum.themerun'),
        ),
        migrations.AddConstraint(
            model_name='learningcentre',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='centre_name_once'),
        ),
        migrations.AddConstraint(
            model_name='material',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='material_name_once'),
        ),
        migrations.AddConstraint(
            model_name='material',
            constraint=models.CheckConstraint(condition=models.Q(('keeping__in', ['durable', 'consumable'])), name='material_keeping_known'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(('how__in', ['bought', 'second_hand', 'given', 'from_home', 'made'])), name='lot_how_known'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='lot_quantity_positive'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(('basis__gte', Decimal('0'))), name='lot_basis_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(('residual__gte', Decimal('0')), ('residual__lte', models.F('basis'))), name='lot_residual_within_basis'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(('expected_uses__gte', 1)), name='lot_has_a_use'),
        ),
        migrations.AddConstraint(
            model_name='acquisition',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('how', 'given'), _negated=True), ('basis', Decimal('0')), _connector='OR'), name='lot_given_has_no_basis'),
        ),
        migrations.AddConstraint(
            model_name='putaway',
            constraint=models.CheckConstraint(condition=models.Q(('broken__gte', 0), ('missing__gte', 0), ('returned__gte', 0), ('used_up__gte', 0)), name='put_away_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='theme',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='theme_name_once'),
        ),
        migrations.AddConstraint(
            model_name='theme',
            constraint=models.CheckConstraint(condition=models.Q(('hue__lt', 360)), name='theme_hue_on_the_wheel'),
        ),
        migrations.AddConstraint(
            model_name='themerun',
            constraint=models.UniqueConstraint(fields=('provider', 'start'), name='run_one_start'),
        ),
        migrations.AddConstraint(
            model_name='themerun',
            constraint=models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='run_span'),
        ),
        migrations.AddConstraint(
            model_name='placement',
            constraint=models.UniqueConstraint(condition=models.Q(('voided_at__isnull', True)), fields=('run', 'lot'), name='placement_once_per_run'),
        ),
        migrations.AddConstraint(
            model_name='placement',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='placement_quantity_positive'),
        ),
    ]
