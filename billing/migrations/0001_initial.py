

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
            name='Agreement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('rate', provider.fields.MoneyField()),
                ('period', models.CharField(choices=[('weekly', 'a week'), ('monthly', 'a month')], max_length=10)),
                ('start', models.DateField()),
                ('end', models.DateField(blank=True, null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='Allocation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('amount', provider.fields.MoneyField()),
            ],
        ),
        migrations.CreateModel(
            name='Asset',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('name', models.CharField(max_length=120)),
                ('in_service_on', models.DateField()),
                ('note', models.TextField(blank=True)),
                ('disposed_on', models.DateField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='Invoice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('series', models.CharField(choices=[('invoice', 'Invoice'), ('credit', 'Credit note')], default='invoice', max_length=10)),
                ('year', models.PositiveSmallIntegerField()),
                ('number', models.PositiveIntegerField()),
                ('issued_on', models.DateField()),
                ('due_on', models.DateField()),
                ('covers_start', models.DateField()),
                ('covers_end', models.DateField()),
                ('total', provider.fields.MoneyField()),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('issuer_name', models.CharField(max_length=120)),
                ('issuer_address', models.TextField(blank=True)),
                ('issuer_contact', models.CharField(blank=True, max_length=160)),
                ('payer_name', models.CharField(max_length=120)),
                ('payer_address', models.TextField(blank=True)),
                ('language', models.CharField(default='en', max_length=2)),
                ('note', models.TextField(blank=True)),
            ],
        ),
        migrations.CreateModel(
            name='InvoiceLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('position', models.PositiveSmallIntegerField()),
                ('covers_start', models.DateField()),
                ('covers_end', models.DateField()),
                ('description', models.CharField(max_length=200)),
                ('arithmetic', models.CharField(blank=True, max_length=200)),
                ('amount', provider.fields.MoneyField()),
                ('live', models.BooleanField(default=True)),
            ],
        ),
        migrations.CreateModel(
            name='NumberCounter',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('series', models.CharField(choices=[('invoice', 'Invoice'), ('credit', 'Credit note')], max_length=10)),
                ('year', models.PositiveSmallIntegerField()),
                ('last', models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name='Payer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('share', provider.fields.ShareField(default=Decimal('1.0000'))),
            ],
        ),
        migrations.CreateModel(
            name='Payment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('on', models.DateField()),
                ('amount', provider.fields.MoneyField()),
                ('method', models.CharField(choices=[('cash', 'Cash'), ('cheque', 'Cheque'), ('transfer', 'Bank transfer'), ('card', 'Card')], max_length=10)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('void_reason', models.CharField(blank=True, editable=False, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='Receipt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('shop', models.CharField(max_length=120)),
                ('bill_date', models.DateField(help_text='Date printed on the receipt')),
                ('paid_date', models.DateField(blank=True, null=True)),
                ('total', provider.fields.MoneyField()),
                ('tax', provider.fields.MoneyField(default=Decimal('0.00'))),
                ('discount', provider.fields.MoneyField(default=Decimal('0.00'))),
                ('note', models.TextField(blank=True)),
                ('voided_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('void_reason', models.CharField(blank=True, editable=False, max_length=200)),
            ],
        ),
        migrations.CreateModel(
            name='ReceiptLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('position', models.PositiveSmallIntegerField()),
                ('description', models.CharField(max_length=200)),
                ('quantity', provider.fields.ScaledField(default=Decimal('1.000'), places=3)),
                ('amount', provider.fields.MoneyField()),
                ('taxable', models.BooleanField(default=True)),
                ('cost', provider.fields.MoneyField()),
                ('category', models.CharField(max_length=40)),
                ('share_rule', models.CharField(choices=[('business', 'Business'), ('shared', 'Shared with the household'), ('personal', 'Personal')], default='business', max_length=10)),
                ('share_basis', models.CharField(blank=True, choices=[('home', 'Home share (area and hours)'), ('measured', 'Measured use'), ('fixed', 'Fixed percent')], max_length=10)),
                ('share', provider.fields.ShareField(blank=True, null=True)),
                ('share_reason', models.CharField(blank=True, max_length=200)),
                ('target', models.CharField(choices=[('none', 'Nothing in particular'), ('run', 'A theme'), ('lot', 'A material that lasts'), ('asset', 'Equipment (asset)'), ('household', 'The household')], default='none', max_length=10)),
            ],
        ),
        migrations.CreateModel(
            name='TaxYear',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('year', models.PositiveSmallIntegerField()),
                ('basis', models.CharField(choices=[('cash', 'Cash: money counts when it is received or paid'), ('accrual', 'Accrual: money counts when it is earned or owed')], max_length=10)),
                ('rounding', models.CharField(choices=[('published', 'Step by step, as the published example'), ('unrounded', 'Only at the end')], default='published', max_length=10)),
                ('provisional_home_share', provider.fields.ShareField(blank=True, null=True)),
            ],
        ),
        migrations.CreateModel(
            name='Tender',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.CharField(default=provider.models.base.new_public_id, editable=False, max_length=16, unique=True)),
                ('version', models.PositiveIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('paid_by', models.CharField(choices=[('cash', 'Cash'), ('debit', 'Debit card'), ('credit', 'Credit card'), ('transfer', 'Bank transfer'), ('cheque', 'Cheque'), ('gift_card', 'Gift card')], max_length=10)),
                ('amount', provider.fields.MoneyField()),
            ],
        ),
    ]
