import django.db.models.deletion
import provider.fields
import provider.models.base
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('curriculum', '0003_day_book'),
        ('provider', '0005_remove_child_allergies'),
    ]

    operations = [
        migrations.CreateModel(
            name='Activity',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('note', models.TextField(blank=True)),
                ('from_months', models.PositiveSmallIntegerField(blank=True, help_text='Youngest age in months', null=True)),
                ('to_months', models.PositiveSmallIntegerField(blank=True, help_text='Oldest age in months', null=True)),
                ('source', models.CharField(blank=True, help_text='Where the idea or print comes from', max_length=200)),
                ('licence', models.CharField(blank=True, help_text='What its maker allows', max_length=120)),
            ],
            options={
                'verbose_name_plural': 'activities',
            },
        ),
        migrations.CreateModel(
            name='ActivityGoal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('goal', models.CharField(max_length=40)),
                ('is_main', models.BooleanField(default=False)),
            ],
        ),
        migrations.CreateModel(
            name='Bin',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('label', models.CharField(max_length=40)),
                ('room', models.CharField(blank=True, max_length=80)),
                ('shelf', models.CharField(blank=True, max_length=80)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='BrokenThing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('plan', models.CharField(choices=[('repair', 'Repair'), ('replace', 'Replace, or claim from the shop'), ('write_off', 'Write off')], max_length=9)),
                ('how', models.CharField(blank=True, help_text='How it broke', max_length=200)),
                ('done_on', models.DateField(blank=True, null=True)),
                ('outcome', models.CharField(blank=True, max_length=200)),
                ('mended', provider.fields.ScaledField(default=Decimal('0.000'), help_text='Pieces that are whole again', places=3)),
            ],
        ),
        migrations.CreateModel(
            name='CleaningRoutine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('act', models.CharField(choices=[('clean', 'Clean'), ('sanitise', 'Clean and sanitise'), ('disinfect', 'Clean and disinfect'), ('launder', 'Machine wash')], max_length=9)),
                ('every_days', models.PositiveSmallIntegerField(default=7)),
                ('last_done_on', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='ComponentUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('cost', provider.fields.MoneyField()),
            ],
        ),
        migrations.CreateModel(
            name='LetterWord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('language', models.CharField(max_length=2)),
                ('opening', models.TextField(blank=True)),
                ('books', models.TextField(blank=True, help_text='One a line')),
                ('closing', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='Making',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('on', models.DateField()),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('minutes', models.PositiveSmallIntegerField(default=0)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='MarkedPiece',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('text', models.CharField(max_length=60)),
                ('state', models.CharField(choices=[('good', 'Good'), ('put_by', 'Put by for later'), ('broken', 'Broken or lost')], default='good', max_length=6)),
            ],
        ),
        migrations.CreateModel(
            name='OwnGoal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('code', models.CharField(max_length=20)),
                ('domain', models.CharField(max_length=60)),
                ('title', models.CharField(max_length=160)),
            ],
        ),
        migrations.CreateModel(
            name='PlannedActivity',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='PlannedMaterial',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('used_as', models.CharField(blank=True, help_text='What it stands for this time', max_length=120)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='PlayroomChoices',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('cost_method', models.CharField(choices=[('fifo', 'Oldest lot first'), ('average', 'Average of what is on hand')], default='fifo', max_length=8)),
            ],
        ),
        migrations.CreateModel(
            name='RecallCheck',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('on', models.DateField()),
                ('where', models.CharField(help_text='Where it was looked up', max_length=160)),
                ('result', models.CharField(choices=[('nothing', 'Nothing found'), ('recalled', 'Recalled'), ('unsure', 'Could not tell')], max_length=8)),
                ('again_on', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='Recipe',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('edition', models.PositiveSmallIntegerField(default=1)),
                ('pieces', models.CharField(choices=[('shared', 'The same for everybody'), ('letters', "A child's letters"), ('name', "A child's name")], default='shared', max_length=8)),
                ('makes', provider.fields.ScaledField(default=Decimal('1.000'), places=3)),
                ('minutes', models.PositiveSmallIntegerField(default=0)),
                ('expected_uses', models.PositiveSmallIntegerField(default=1)),
                ('bought_price', provider.fields.MoneyField(blank=True, help_text='What the same would cost to buy, for comparison', null=True)),
                ('source', models.CharField(blank=True, max_length=200)),
                ('licence', models.CharField(blank=True, max_length=120)),
                ('note', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='RecipeLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('quantity', provider.fields.ScaledField(places=3)),
                ('waste', provider.fields.ScaledField(default=Decimal('0.0000'), places=4)),
                ('child_specific', models.BooleanField(default=False, help_text='Used again whenever the roster changes')),
            ],
        ),
        migrations.CreateModel(
            name='ReviewMark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('verdict', models.CharField(choices=[('keep', 'Keep'), ('change', 'Change'), ('drop', 'Drop')], max_length=6)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='RunReview',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('loved', models.TextField(blank=True, help_text='What the children loved')),
                ('next_time', models.TextField(blank=True, help_text='What to do differently')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='SafetyFacts',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('smallest_a', provider.fields.ScaledField(blank=True, help_text='Smallest piece: shortest side', null=True, places=1)),
                ('smallest_b', provider.fields.ScaledField(blank=True, help_text='Smallest piece: middle side', null=True, places=1)),
                ('smallest_c', provider.fields.ScaledField(blank=True, help_text='Smallest piece: longest side', null=True, places=1)),
                ('ball_diameter', provider.fields.ScaledField(blank=True, help_text='Smallest ball or egg: across', null=True, places=1)),
                ('cord_length', provider.fields.ScaledField(blank=True, help_text='Longest free cord or elastic', null=True, places=1)),
                ('loop_length', provider.fields.ScaledField(blank=True, help_text='Longest loop, all the way round', null=True, places=1)),
                ('magnet', models.BooleanField(blank=True, null=True)),
                ('button_cell', models.BooleanField(blank=True, null=True)),
                ('latex', models.BooleanField(blank=True, null=True)),
                ('plastic_bag', models.BooleanField(blank=True, null=True)),
                ('old_paint', models.BooleanField(blank=True, null=True)),
                ('filler', models.CharField(blank=True, choices=[('', 'None'), ('water', 'Water'), ('sand', 'Sand'), ('dough', 'Dough'), ('raw_flour', 'Raw flour'), ('dry_food', 'Dry beans, lentils, rice, pasta, corn'), ('kidney_beans', 'Raw kidney beans'), ('small_craft', 'Pom-poms, buttons, beads'), ('water_beads', 'Water beads'), ('foam', 'Polystyrene foam')], max_length=12)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='ShoppingItem',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('text', models.CharField(max_length=120)),
                ('quantity', provider.fields.ScaledField(default=Decimal('1.000'), places=3)),
                ('shop', models.CharField(blank=True, max_length=120)),
                ('estimate', provider.fields.MoneyField(blank=True, help_text='What it should cost in all', null=True)),
                ('ordered_on', models.DateField(blank=True, help_text='On the way since', null=True)),
                ('bought_on', models.DateField(blank=True, null=True)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='WishItem',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('text', models.CharField(max_length=120)),
                ('arrived_on', models.DateField(blank=True, null=True)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.RemoveConstraint(
            model_name='themerun',
            name='run_one_start',
        ),
        migrations.AddField(
            model_name='acquisition',
            name='estimated_value',
            field=provider.fields.MoneyField(blank=True, help_text='Of a given lot: a note, never a cost', null=True),
        ),
        migrations.AddField(
            model_name='learningcentre',
            name='retired_at',
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='age_mark_months',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Youngest age the maker names, in months', null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='care_note',
            field=models.CharField(blank=True, help_text='How to clean and keep it', max_length=200),
        ),
        migrations.AddField(
            model_name='material',
            name='condition',
            field=models.CharField(choices=[('good', 'Good'), ('worn', 'Worn'), ('mend', 'Needs mending')], default='good', max_length=4),
        ),
        migrations.AddField(
            model_name='material',
            name='licence',
            field=models.CharField(blank=True, help_text='What its maker allows', max_length=120),
        ),
        migrations.AddField(
            model_name='material',
            name='photo',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.storedfile'),
        ),
        migrations.AddField(
            model_name='material',
            name='pieces_in_set',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='material',
            name='source',
            field=models.CharField(blank=True, help_text='Where the idea or print comes from', max_length=200),
        ),
        migrations.AddField(
            model_name='placement',
            name='used_as',
            field=models.CharField(blank=True, help_text='What it stands for this time', max_length=120),
        ),
        migrations.AddField(
            model_name='putaway',
            name='washed',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='runwork',
            name='centre',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='work', to='curriculum.learningcentre'),
        ),
        migrations.AddField(
            model_name='themerun',
            name='started_from',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='themerun',
            name='voided_at',
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AlterField(
            model_name='material',
            name='place',
            field=models.CharField(blank=True, help_text='Where it is when it has no bin', max_length=120),
        ),
        migrations.AddConstraint(
            model_name='themerun',
            constraint=models.UniqueConstraint(condition=models.Q(('voided_at__isnull', True)), fields=('provider', 'start'), name='run_one_start'),
        ),
        migrations.AddField(
            model_name='activity',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='activitygoal',
            name='activity',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='goals', to='curriculum.activity'),
        ),
        migrations.AddField(
            model_name='activitygoal',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='bin',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='material',
            name='bin',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='materials', to='curriculum.bin'),
        ),
        migrations.AddConstraint(
            model_name='material',
            constraint=models.CheckConstraint(condition=models.Q(('condition__in', ['good', 'worn', 'mend'])), name='material_condition'),
        ),
        migrations.AddField(
            model_name='brokenthing',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='brokenthing',
            name='put_away',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='broken_things', to='curriculum.putaway'),
        ),
        migrations.AddField(
            model_name='cleaningroutine',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cleaning', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='cleaningroutine',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='componentuse',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='component_uses', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='componentuse',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='letterword',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='letterword',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='letters', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='making',
            name='lot',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='making', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='making',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='componentuse',
            name='making',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='components', to='curriculum.making'),
        ),
        migrations.AddField(
            model_name='markedpiece',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='marked_pieces', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='markedpiece',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='owngoal',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='plannedactivity',
            name='activity',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='planned', to='curriculum.activity'),
        ),
        migrations.AddField(
            model_name='plannedactivity',
            name='centre',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='activities', to='curriculum.learningcentre'),
        ),
        migrations.AddField(
            model_name='plannedactivity',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='plannedactivity',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='activities', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='plannedmaterial',
            name='centre',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='needs', to='curriculum.learningcentre'),
        ),
        migrations.AddField(
            model_name='plannedmaterial',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='needs', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='plannedmaterial',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='plannedmaterial',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='needs', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='playroomchoices',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='recallcheck',
            name='lot',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recall_checks', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='recallcheck',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='recipe',
            name='product',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recipes', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='recipe',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='making',
            name='recipe',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='makings', to='curriculum.recipe'),
        ),
        migrations.AddField(
            model_name='recipeline',
            name='material',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='recipe_lines', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='recipeline',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='recipeline',
            name='recipe',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='curriculum.recipe'),
        ),
        migrations.AddField(
            model_name='reviewmark',
            name='activity',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='curriculum.activity'),
        ),
        migrations.AddField(
            model_name='reviewmark',
            name='material',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='reviewmark',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='reviewmark',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='marks', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='runreview',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='runreview',
            name='run',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='review', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='safetyfacts',
            name='material',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='safety', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='safetyfacts',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='shoppingitem',
            name='material',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='shopping', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='shoppingitem',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='shoppingitem',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='shopping', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='wishitem',
            name='material',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='wishes', to='curriculum.material'),
        ),
        migrations.AddField(
            model_name='wishitem',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='wishitem',
            name='run',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='wishes', to='curriculum.themerun'),
        ),
        migrations.AddConstraint(
            model_name='activity',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='activity_name_once'),
        ),
        migrations.AddConstraint(
            model_name='activitygoal',
            constraint=models.UniqueConstraint(fields=('activity', 'goal'), name='activity_goal_once'),
        ),
        migrations.AddConstraint(
            model_name='bin',
            constraint=models.UniqueConstraint(fields=('provider', 'label'), name='bin_label_once'),
        ),
        migrations.AddConstraint(
            model_name='brokenthing',
            constraint=models.CheckConstraint(condition=models.Q(('plan__in', ['repair', 'replace', 'write_off'])), name='mending_plan_known'),
        ),
        migrations.AddConstraint(
            model_name='brokenthing',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='broken_quantity_positive'),
        ),
        migrations.AddConstraint(
            model_name='brokenthing',
            constraint=models.CheckConstraint(condition=models.Q(('mended__gte', Decimal('0')), ('mended__lte', models.F('quantity'))), name='broken_mended_within'),
        ),
        migrations.AddConstraint(
            model_name='cleaningroutine',
            constraint=models.CheckConstraint(condition=models.Q(('act__in', ['clean', 'sanitise', 'disinfect', 'launder'])), name='cleaning_act_known'),
        ),
        migrations.AddConstraint(
            model_name='letterword',
            constraint=models.UniqueConstraint(fields=('run', 'language'), name='letter_once_per_language'),
        ),
        migrations.AddConstraint(
            model_name='componentuse',
            constraint=models.UniqueConstraint(fields=('making', 'lot'), name='component_use_once'),
        ),
        migrations.AddConstraint(
            model_name='componentuse',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='component_use_positive'),
        ),
        migrations.AddConstraint(
            model_name='markedpiece',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['good', 'put_by', 'broken'])), name='marked_piece_state_known'),
        ),
        migrations.AddConstraint(
            model_name='owngoal',
            constraint=models.UniqueConstraint(fields=('provider', 'code'), name='own_goal_code_once'),
        ),
        migrations.AddConstraint(
            model_name='plannedactivity',
            constraint=models.UniqueConstraint(condition=models.Q(('voided_at__isnull', True)), fields=('run', 'centre', 'activity'), name='planned_activity_once'),
        ),
        migrations.AddConstraint(
            model_name='plannedmaterial',
            constraint=models.UniqueConstraint(condition=models.Q(('voided_at__isnull', True)), fields=('run', 'centre', 'material'), name='planned_material_once'),
        ),
        migrations.AddConstraint(
            model_name='plannedmaterial',
            constraint=models.UniqueConstraint(condition=models.Q(('centre__isnull', True), ('voided_at__isnull', True)), fields=('run', 'material'), name='planned_material_once_anywhere'),
        ),
        migrations.AddConstraint(
            model_name='plannedmaterial',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='planned_material_positive'),
        ),
        migrations.AddConstraint(
            model_name='playroomchoices',
            constraint=models.UniqueConstraint(fields=('provider',), name='playroom_choices_once'),
        ),
        migrations.AddConstraint(
            model_name='playroomchoices',
            constraint=models.CheckConstraint(condition=models.Q(('cost_method__in', ['fifo', 'average'])), name='cost_method_known'),
        ),
        migrations.AddConstraint(
            model_name='recallcheck',
            constraint=models.CheckConstraint(condition=models.Q(('result__in', ['nothing', 'recalled', 'unsure'])), name='recall_result_known'),
        ),
        migrations.AddConstraint(
            model_name='recipe',
            constraint=models.UniqueConstraint(fields=('product', 'edition'), name='recipe_edition_once'),
        ),
        migrations.AddConstraint(
            model_name='recipe',
            constraint=models.CheckConstraint(condition=models.Q(('pieces__in', ['shared', 'letters', 'name'])), name='recipe_pieces_known'),
        ),
        migrations.AddConstraint(
            model_name='recipe',
            constraint=models.CheckConstraint(condition=models.Q(('makes__gt', Decimal('0'))), name='recipe_makes_positive'),
        ),
        migrations.AddConstraint(
            model_name='recipe',
            constraint=models.CheckConstraint(condition=models.Q(('expected_uses__gte', 1)), name='recipe_has_a_use'),
        ),
        migrations.AddConstraint(
            model_name='making',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='making_positive'),
        ),
        migrations.AddConstraint(
            model_name='recipeline',
            constraint=models.UniqueConstraint(fields=('recipe', 'material', 'child_specific'), name='recipe_line_once'),
        ),
        migrations.AddConstraint(
            model_name='recipeline',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='recipe_line_positive'),
        ),
        migrations.AddConstraint(
            model_name='recipeline',
            constraint=models.CheckConstraint(condition=models.Q(('waste__gte', Decimal('0')), ('waste__lt', Decimal('1'))), name='recipe_line_waste'),
        ),
        migrations.AddConstraint(
            model_name='reviewmark',
            constraint=models.UniqueConstraint(fields=('run', 'activity'), name='review_mark_once_per_activity'),
        ),
        migrations.AddConstraint(
            model_name='reviewmark',
            constraint=models.UniqueConstraint(fields=('run', 'material'), name='review_mark_once_per_material'),
        ),
        migrations.AddConstraint(
            model_name='reviewmark',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('activity__isnull', True), ('material__isnull', False)), models.Q(('activity__isnull', False), ('material__isnull', True)), _connector='OR'), name='review_mark_of_one_thing'),
        ),
        migrations.AddConstraint(
            model_name='reviewmark',
            constraint=models.CheckConstraint(condition=models.Q(('verdict__in', ['keep', 'change', 'drop'])), name='review_verdict_known'),
        ),
        migrations.AddConstraint(
            model_name='safetyfacts',
            constraint=models.CheckConstraint(condition=models.Q(('filler__in', ['', 'water', 'sand', 'dough', 'raw_flour', 'dry_food', 'kidney_beans', 'small_craft', 'water_beads', 'foam'])), name='safety_filler_known'),
        ),
        migrations.AddConstraint(
            model_name='shoppingitem',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='shopping_quantity_positive'),
        ),
    ]
