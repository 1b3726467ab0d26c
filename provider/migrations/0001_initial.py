

import django.contrib.auth.models
import django.contrib.auth.validators
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import provider.fields
import provider.models.access
import provider.models.base
import provider.models.trail
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='Household',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('address', models.TextField(blank=True)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('language', models.CharField(choices=[('en', 'English'), ('fr', 'French'), ('es', 'Spanish')], default='en', max_length=2)),
                ('note', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'verbose_name': 'user',
                'verbose_name_plural': 'users',
                'abstract': False,
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='Child',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('preferred_name', models.CharField(blank=True, help_text='As called in the playroom', max_length=60)),
                ('birth_date', models.DateField()),
                ('is_own_child', models.BooleanField(default=False, help_text="The provider's own child")),
                ('allergies', models.TextField(blank=True, help_text='What to avoid, and what to do')),
                ('household', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='children', to='provider.household')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Provider',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('slug', models.SlugField(max_length=40, unique=True, validators=[django.core.validators.RegexValidator('^[a-z0-9][a-z0-9-]*$'), provider.models.access.check_slug])),
                ('name', models.CharField(max_length=120)),
                ('country', models.CharField(choices=[('US', 'United States'), ('CA', 'Canada')], max_length=2)),
                ('region', models.CharField(blank=True, help_text='State or province, two letters', max_length=3)),
                ('time_zone', models.CharField(max_length=60, validators=[provider.models.access.check_time_zone])),
                ('address', models.TextField(blank=True)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('area_unit', models.CharField(choices=[('ft2', 'square feet'), ('m2', 'square metres')], max_length=3)),
                ('home_area', provider.fields.ScaledField(help_text='Whole home, in the unit above, basement and garage included', places=2)),
                ('opened_on', models.DateField(help_text='First day of business')),
                ('closed_on', models.DateField(blank=True, null=True)),
                ('hourly_value', provider.fields.MoneyField(blank=True, help_text='What an hour of your own work is worth to you. Shown beside costs, never booked.', null=True)),
                ('invoice_days_due', models.PositiveSmallIntegerField(default=5, help_text='Days from issue until an invoice is due')),
                ('invoice_note', models.TextField(blank=True)),
                ('is_example', models.BooleanField(default=False, help_text='Invented business, for looking round')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('home_area__gt', Decimal('0'))), name='provider_home_area_positive'), models.CheckConstraint(condition=models.Q(('country__in', ['US', 'CA'])), name='provider_country_known'), models.CheckConstraint(condition=models.Q(('area_unit__in', ['ft2', 'm2'])), name='provider_area_unit_known'), models.CheckConstraint(condition=models.Q(('closed_on__isnull', True), ('closed_on__gt', models.F('opened_on')), _connector='OR'), name='provider_closes_after_opening')],
            },
        ),
        migrations.AddField(
            model_name='household',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.CreateModel(
            name='Guardian',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('household', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='guardians', to='provider.household')),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Enrolment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, help_text='First day no longer enrolled', null=True)),
                ('is_free_place', models.BooleanField(default=False)),
                ('child', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='enrolments', to='provider.child')),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='Closure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('start', models.DateField()),
                ('end', models.DateField()),
                ('kind', models.CharField(choices=[('holiday', 'Public holiday'), ('time_off', "Provider's time off"), ('illness', 'Provider ill'), ('weather', 'Weather'), ('other', 'Other')], max_length=10)),
                ('paid', models.BooleanField(default=True)),
                ('reason', models.CharField(max_length=120)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.AddField(
            model_name='child',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.CreateModel(
            name='AuditEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('actor_label', models.CharField(max_length=150)),
                ('verb', models.CharField(max_length=30)),
                ('object_kind', models.CharField(max_length=60)),
                ('object_public_id', models.CharField(max_length=16)),
                ('object_label', models.CharField(max_length=200)),
                ('summary', models.CharField(max_length=300)),
                ('changes', models.JSONField(default=dict)),
                ('actor', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='Attendance',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('day', models.DateField()),
                ('arrived_at', models.DateTimeField(blank=True, null=True)),
                ('left_at', models.DateTimeField(blank=True, null=True)),
                ('absence', models.CharField(blank=True, help_text='Reason, when the child did not come', max_length=80)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('child', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='attendance', to='provider.child')),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='Room',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=80)),
                ('area', provider.fields.ScaledField(places=2)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='RoomUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('use', models.CharField(choices=[('exclusive', 'Only for the business'), ('regular', 'Used for care every business day, and by the household'), ('occasional', 'Used for care now and then'), ('none', 'Not used for care')], max_length=10)),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, null=True)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
                ('room', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='provider.room')),
            ],
        ),
        migrations.CreateModel(
            name='StoredFile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('file', models.FileField(max_length=120, upload_to=provider.models.trail.upload_path)),
                ('kind', models.CharField(choices=[('image/jpeg', 'Photo'), ('application/pdf', 'PDF')], max_length=20)),
                ('original_name', models.CharField(blank=True, max_length=200)),
                ('size', models.PositiveIntegerField()),
                ('sha256', models.CharField(help_text='Of what was sent, to notice the same paper twice', max_length=64)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='Submission',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=64)),
                ('kind', models.CharField(max_length=60)),
                ('result_public_id', models.CharField(max_length=16)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='WorkEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('kind', models.CharField(choices=[('prepare', 'Preparing activities'), ('clean', 'Cleaning'), ('cook', 'Cooking'), ('plan', 'Planning'), ('records', 'Record keeping'), ('shop', 'Shopping'), ('training', 'Training')], max_length=10)),
                ('at_home', models.BooleanField(default=True)),
                ('started_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField()),
                ('person', models.CharField(blank=True, help_text='Who worked, when not the owner', max_length=120)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
        ),
        migrations.CreateModel(
            name='PeriodLock',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('start', models.DateField()),
                ('end', models.DateField()),
                ('reason', models.CharField(max_length=200)),
                ('lifted_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('lift_reason', models.CharField(blank=True, max_length=200)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='period_lock_span')],
            },
        ),
        migrations.CreateModel(
            name='PatternDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('weekday', models.PositiveSmallIntegerField(choices=[(0, 'Monday'), (1, 'Tuesday'), (2, 'Wednesday'), (3, 'Thursday'), (4, 'Friday'), (5, 'Saturday'), (6, 'Sunday')])),
                ('arrives', models.TimeField()),
                ('leaves', models.TimeField()),
                ('cycle', models.CharField(choices=[('every', 'Every week'), ('odd', 'Odd weeks of the year'), ('even', 'Even weeks of the year')], default='every', max_length=5)),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, null=True)),
                ('enrolment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pattern', to='provider.enrolment')),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('enrolment', 'weekday', 'cycle', 'start', 'arrives'), name='pattern_day_once'), models.CheckConstraint(condition=models.Q(('weekday__lte', 6)), name='pattern_day_weekday'), models.CheckConstraint(condition=models.Q(('cycle__in', ['every', 'odd', 'even'])), name='pattern_day_cycle_known'), models.CheckConstraint(condition=models.Q(('leaves__gt', models.F('arrives'))), name='pattern_day_order'), models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='pattern_day_span')],
            },
        ),
        migrations.CreateModel(
            name='OpeningHours',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('weekday', models.PositiveSmallIntegerField(choices=[(0, 'Monday'), (1, 'Tuesday'), (2, 'Wednesday'), (3, 'Thursday'), (4, 'Friday'), (5, 'Saturday'), (6, 'Sunday')])),
                ('opens', models.TimeField()),
                ('closes', models.TimeField()),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, null=True)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('provider', 'weekday', 'start'), name='opening_hours_one_start'), models.CheckConstraint(condition=models.Q(('weekday__lte', 6)), name='opening_hours_weekday'), models.CheckConstraint(condition=models.Q(('closes__gt', models.F('opens'))), name='opening_hours_order'), models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='opening_hours_span')],
            },
        ),
        migrations.CreateModel(
            name='Membership',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('role', models.CharField(choices=[('owner', 'Owner'), ('helper', 'Helper'), ('preparer', 'Tax preparer'), ('family', 'Family')], max_length=10)),
                ('household', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to='provider.household')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to=settings.AUTH_USER_MODEL)),
                ('provider', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('user', 'provider'), name='membership_once_per_provider'), models.CheckConstraint(condition=models.Q(('role__in', ['owner', 'helper', 'preparer', 'family'])), name='membership_role_known'), models.CheckConstraint(condition=models.Q(models.Q(('role', 'family'), ('household__isnull', False)), models.Q(models.Q(('role', 'family'), _negated=True), ('household__isnull', True)), _connector='OR'), name='membership_household_only_for_family')],
            },
        ),
        migrations.AddConstraint(
            model_name='household',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='household_name_once'),
        ),
        migrations.AddConstraint(
            model_name='enrolment',
            constraint=models.UniqueConstraint(fields=('child', 'start'), name='enrolment_one_start'),
        ),
        migrations.AddConstraint(
            model_name='enrolment',
            constraint=models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='enrolment_span'),
        ),
        migrations.AddConstraint(
            model_name='closure',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['holiday', 'time_off', 'illness', 'weather', 'other'])), name='closure_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='closure',
            constraint=models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='closure_span'),
        ),
        migrations.AddIndex(
            model_name='auditentry',
            index=models.Index(fields=['provider', 'at'], name='audit_by_time'),
        ),
        migrations.AddIndex(
            model_name='auditentry',
            index=models.Index(fields=['object_public_id'], name='audit_by_object'),
        ),
        migrations.AddIndex(
            model_name='attendance',
            index=models.Index(fields=['provider', 'day'], name='attendance_by_day'),
        ),
        migrations.AddConstraint(
            model_name='attendance',
            constraint=models.UniqueConstraint(condition=models.Q(('voided_at__isnull', True)), fields=('child', 'arrived_at'), name='attendance_one_arrival'),
        ),
        migrations.AddConstraint(
            model_name='attendance',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('absence', ''), ('arrived_at__isnull', False)), models.Q(('arrived_at__isnull', True), ('left_at__isnull', True), models.Q(('absence', ''), _negated=True)), _connector='OR'), name='attendance_here_or_absent'),
        ),
        migrations.AddConstraint(
            model_name='attendance',
            constraint=models.CheckConstraint(condition=models.Q(('left_at__isnull', True), ('left_at__gt', models.F('arrived_at')), _connector='OR'), name='attendance_order'),
        ),
        migrations.AddConstraint(
            model_name='room',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='room_name_once'),
        ),
        migrations.AddConstraint(
            model_name='room',
            constraint=models.CheckConstraint(condition=models.Q(('area__gt', Decimal('0'))), name='room_area_positive'),
        ),
        migrations.AddConstraint(
            model_name='roomuse',
            constraint=models.UniqueConstraint(fields=('room', 'start'), name='room_use_one_start'),
        ),
        migrations.AddConstraint(
            model_name='roomuse',
            constraint=models.CheckConstraint(condition=models.Q(('use__in', ['exclusive', 'regular', 'occasional', 'none'])), name='room_use_known'),
        ),
        migrations.AddConstraint(
            model_name='roomuse',
            constraint=models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='room_use_span'),
        ),
        migrations.AddIndex(
            model_name='storedfile',
            index=models.Index(fields=['provider', 'sha256'], name='stored_file_by_hash'),
        ),
        migrations.AddConstraint(
            model_name='submission',
            constraint=models.UniqueConstraint(fields=('provider', 'key'), name='submission_once'),
        ),
        migrations.AddIndex(
            model_name='workentry',
            index=models.Index(fields=['provider', 'started_at'], name='work_by_start'),
        ),
        migrations.AddConstraint(
            model_name='workentry',
            constraint=models.CheckConstraint(condition=models.Q(('kind__in', ['prepare', 'clean', 'cook', 'plan', 'records', 'shop', 'training'])), name='work_kind_known'),
        ),
        migrations.AddConstraint(
            model_name='workentry',
            constraint=models.CheckConstraint(condition=models.Q(('ended_at__gt', models.F('started_at'))), name='work_order'),
        ),
    ]
