

import django.db.models.deletion
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('billing', '0001_initial'),
        ('curriculum', '0001_initial'),
        ('provider', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='agreement',
            name='enrolment',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='agreements', to='provider.enrolment'),
        ),
        migrations.AddField(
            model_name='agreement',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='allocation',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='asset',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='invoice',
            name='corrects',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='credit_note', to='billing.invoice'),
        ),
        migrations.AddField(
            model_name='invoice',
            name='guardian',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='invoices', to='provider.guardian'),
        ),
        migrations.AddField(
            model_name='invoice',
            name='household',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='invoices', to='provider.household'),
        ),
        migrations.AddField(
            model_name='invoice',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='allocation',
            name='invoice',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='allocations', to='billing.invoice'),
        ),
        migrations.AddField(
            model_name='invoiceline',
            name='agreement',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='invoice_lines', to='billing.agreement'),
        ),
        migrations.AddField(
            model_name='invoiceline',
            name='child',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='invoice_lines', to='provider.child'),
        ),
        migrations.AddField(
            model_name='invoiceline',
            name='guardian',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='invoice_lines', to='provider.guardian'),
        ),
        migrations.AddField(
            model_name='invoiceline',
            name='invoice',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='billing.invoice'),
        ),
        migrations.AddField(
            model_name='invoiceline',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='numbercounter',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='payer',
            name='agreement',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='payers', to='billing.agreement'),
        ),
        migrations.AddField(
            model_name='payer',
            name='guardian',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pays', to='provider.guardian'),
        ),
        migrations.AddField(
            model_name='payer',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='payment',
            name='guardian',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='payments', to='provider.guardian'),
        ),
        migrations.AddField(
            model_name='payment',
            name='household',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='payments', to='provider.household'),
        ),
        migrations.AddField(
            model_name='payment',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='allocation',
            name='payment',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='allocations', to='billing.payment'),
        ),
        migrations.AddField(
            model_name='receipt',
            name='paper',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='receipts', to='provider.storedfile'),
        ),
        migrations.AddField(
            model_name='receipt',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='receipt',
            name='returns',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='returned_by', to='billing.receipt'),
        ),
        migrations.AddField(
            model_name='receiptline',
            name='asset',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='receipt_lines', to='billing.asset'),
        ),
        migrations.AddField(
            model_name='receiptline',
            name='lot',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='receipt_lines', to='curriculum.acquisition'),
        ),
        migrations.AddField(
            model_name='receiptline',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='receiptline',
            name='receipt',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='billing.receipt'),
        ),
        migrations.AddField(
            model_name='receiptline',
            name='run',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='receipt_lines', to='curriculum.themerun'),
        ),
        migrations.AddField(
            model_name='taxyear',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='tender',
            name='provider',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='provider.provider'),
        ),
        migrations.AddField(
            model_name='tender',
            name='receipt',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tenders', to='billing.receipt'),
        ),
        migrations.AddConstraint(
            model_name='agreement',
            constraint=models.UniqueConstraint(fields=('enrolment', 'start'), name='agreement_one_start'),
        ),
        migrations.AddConstraint(
            model_name='agreement',
            constraint=models.CheckConstraint(condition=models.Q(('rate__gte', Decimal('0'))), name='agreement_rate_not_negative'),
        ),
        migrations.AddConstraint(
            model_name='agreement',
            constraint=models.CheckConstraint(condition=models.Q(('period__in', ['weekly', 'monthly'])), name='agreement_period_known'),
        ),
        migrations.AddConstraint(
            model_name='agreement',
            constraint=models.CheckConstraint(condition=models.Q(('end__isnull', True), ('end__gt', models.F('start')), _connector='OR'), name='agreement_span'),
        ),
        migrations.AddConstraint(
            model_name='asset',
            constraint=models.UniqueConstraint(fields=('provider', 'name'), name='asset_name_once'),
        ),
        migrations.AddIndex(
            model_name='invoice',
            index=models.Index(fields=['provider', 'covers_start'], name='invoice_by_period'),
        ),
        migrations.AddConstraint(
            model_name='invoice',
            constraint=models.UniqueConstraint(fields=('provider', 'series', 'year', 'number'), name='invoice_number_once'),
        ),
        migrations.AddConstraint(
            model_name='invoice',
            constraint=models.CheckConstraint(condition=models.Q(('series__in', ['invoice', 'credit'])), name='invoice_series_known'),
        ),
        migrations.AddConstraint(
            model_name='invoice',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('corrects__isnull', True), ('series', 'invoice')), models.Q(('corrects__isnull', False), ('series', 'credit')), _connector='OR'), name='invoice_credit_note_corrects'),
        ),
        migrations.AddConstraint(
            model_name='invoice',
            constraint=models.CheckConstraint(condition=models.Q(('covers_end__isnull', True), ('covers_end__gt', models.F('covers_start')), _connector='OR'), name='invoice_span'),
        ),
        migrations.AddConstraint(
            model_name='invoiceline',
            constraint=models.UniqueConstraint(fields=('invoice', 'position'), name='invoice_line_position_once'),
        ),
        migrations.AddConstraint(
            model_name='invoiceline',
            constraint=models.UniqueConstraint(condition=models.Q(('live', True)), fields=('agreement', 'guardian', 'covers_start'), name='invoice_line_never_twice'),
        ),
        migrations.AddConstraint(
            model_name='invoiceline',
            constraint=models.CheckConstraint(condition=models.Q(('covers_end__isnull', True), ('covers_end__gt', models.F('covers_start')), _connector='OR'), name='invoice_line_span'),
        ),
        migrations.AddConstraint(
            model_name='numbercounter',
            constraint=models.UniqueConstraint(fields=('provider', 'series', 'year'), name='number_counter_once'),
        ),
        migrations.AddConstraint(
            model_name='numbercounter',
            constraint=models.CheckConstraint(condition=models.Q(('series__in', ['invoice', 'credit'])), name='number_counter_series_known'),
        ),
        migrations.AddConstraint(
            model_name='payer',
            constraint=models.UniqueConstraint(fields=('agreement', 'guardian'), name='payer_once_per_agreement'),
        ),
        migrations.AddConstraint(
            model_name='payer',
            constraint=models.CheckConstraint(condition=models.Q(('share__gt', Decimal('0')), ('share__lte', Decimal('1'))), name='payer_share_is_a_fraction'),
        ),
        migrations.AddIndex(
            model_name='payment',
            index=models.Index(fields=['provider', 'on'], name='payment_by_date'),
        ),
        migrations.AddConstraint(
            model_name='payment',
            constraint=models.CheckConstraint(condition=models.Q(('amount__gt', Decimal('0'))), name='payment_positive'),
        ),
        migrations.AddConstraint(
            model_name='payment',
            constraint=models.CheckConstraint(condition=models.Q(('method__in', ['cash', 'cheque', 'transfer', 'card'])), name='payment_method_known'),
        ),
        migrations.AddConstraint(
            model_name='allocation',
            constraint=models.UniqueConstraint(fields=('payment', 'invoice'), name='allocation_once'),
        ),
        migrations.AddConstraint(
            model_name='allocation',
            constraint=models.CheckConstraint(condition=models.Q(('amount__gt', Decimal('0'))), name='allocation_positive'),
        ),
        migrations.AddIndex(
            model_name='receipt',
            index=models.Index(fields=['provider', 'bill_date'], name='receipt_by_date'),
        ),
        migrations.AddConstraint(
            model_name='receiptline',
            constraint=models.UniqueConstraint(fields=('receipt', 'position'), name='receipt_line_position_once'),
        ),
        migrations.AddConstraint(
            model_name='receiptline',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', Decimal('0'))), name='receipt_line_quantity_positive'),
        ),
        migrations.AddConstraint(
            model_name='receiptline',
            constraint=models.CheckConstraint(condition=models.Q(('share_rule__in', ['business', 'shared', 'personal'])), name='receipt_line_rule_known'),
        ),
        migrations.AddConstraint(
            model_name='receiptline',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('asset__isnull', True), ('lot__isnull', True), ('run__isnull', False), ('target', 'run')), models.Q(('asset__isnull', True), ('lot__isnull', False), ('run__isnull', True), ('target', 'lot')), models.Q(('asset__isnull', False), ('lot__isnull', True), ('run__isnull', True), ('target', 'asset')), models.Q(('asset__isnull', True), ('lot__isnull', True), ('run__isnull', True), ('target__in', ['none', 'household'])), _connector='OR'), name='receipt_line_one_target'),
        ),
        migrations.AddConstraint(
            model_name='receiptline',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('share__isnull', True), ('share_basis', 'home'), ('share_rule', 'shared')), models.Q(('share__gte', Decimal('0')), ('share__lte', Decimal('1')), ('share_basis__in', ['measured', 'fixed']), ('share_rule', 'shared'), models.Q(('share_reason', ''), _negated=True)), models.Q(('share__isnull', True), ('share_basis', ''), ('share_rule__in', ['business', 'personal'])), _connector='OR'), name='receipt_line_share_has_a_basis'),
        ),
        migrations.AddConstraint(
            model_name='taxyear',
            constraint=models.UniqueConstraint(fields=('provider', 'year'), name='tax_year_once'),
        ),
        migrations.AddConstraint(
            model_name='taxyear',
            constraint=models.CheckConstraint(condition=models.Q(('basis__in', ['cash', 'accrual'])), name='tax_year_basis_known'),
        ),
        migrations.AddConstraint(
            model_name='taxyear',
            constraint=models.CheckConstraint(condition=models.Q(('rounding__in', ['published', 'unrounded'])), name='tax_year_rounding_known'),
        ),
        migrations.AddConstraint(
            model_name='taxyear',
            constraint=models.CheckConstraint(condition=models.Q(('provisional_home_share__isnull', True), models.Q(('provisional_home_share__gte', Decimal('0')), ('provisional_home_share__lte', Decimal('1'))), _connector='OR'), name='tax_year_share_is_a_fraction'),
        ),
        migrations.AddConstraint(
            model_name='tender',
            constraint=models.CheckConstraint(condition=models.Q(('paid_by__in', ['cash', 'debit', 'credit', 'transfer', 'cheque', 'gift_card'])), name='tender_kind_known'),
        ),
    ]
