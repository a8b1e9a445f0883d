import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('fleet', '0001_initial'),
        ('fleet', '__first__'),
        ('scheduling', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='BenchRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField(default=1)),
                ('key', models.CharField(help_text='makes opening it twice harmless', max_length=100)),
                ('state', models.CharField(choices=[('open', 'open'), ('paused', 'paused'), ('finished', 'finished, not signed'), ('signed', 'signed'), ('abandoned', 'abandoned')], default='open', max_length=12)),
                ('started_at', models.DateTimeField()),
                ('finished_at', models.DateTimeField(blank=True, null=True)),
                ('minutes_at_start', models.PositiveBigIntegerField()),
                ('landings_at_start', models.PositiveIntegerField()),
                ('verdict', models.CharField(blank=True, max_length=20)),
                ('verdict_detail', models.JSONField(blank=True, default=dict)),
                ('content', models.JSONField(blank=True, null=True)),
                ('abandoned_reason', models.CharField(blank=True, max_length=300)),
                ('version', models.PositiveIntegerField(default=1)),
                ('aircraft', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='fleet.aircraft')),
                ('opened_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('operator', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='bench_runs', to='fleet.operator')),
                ('performer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to=settings.AUTH_USER_MODEL)),
                ('procedure_version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='scheduling.procedureversion')),
                ('task', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='runs', to='scheduling.task')),
            ],
            options={
                'ordering': ['-started_at', '-id'],
                'constraints': [models.UniqueConstraint(fields=('task', 'number'), name='run_number_once_per_task'), models.UniqueConstraint(fields=('task', 'key'), name='run_key_once_per_task'), models.UniqueConstraint(condition=models.Q(('state__in', ['open', 'paused', 'finished'])), fields=('task',), name='one_run_in_hand_per_task'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'abandoned'), _negated=True), models.Q(('abandoned_reason', ''), _negated=True), _connector='OR'), name='abandoned_run_has_a_reason')],
            },
        ),
        migrations.CreateModel(
            name='EquipmentUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.CharField(max_length=40)),
                ('certificate', models.CharField(blank=True, max_length=80)),
                ('calibration_due', models.DateField(blank=True, null=True)),
                ('equipment', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='fleet.equipment')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='equipment_uses', to='records.benchrun')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('run', 'role'), name='one_equipment_per_role_and_run')],
            },
        ),
        migrations.CreateModel(
            name='HandOver',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('note', models.CharField(max_length=300)),
                ('at', models.DateTimeField()),
                ('from_user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='hand_overs', to='records.benchrun')),
                ('to_user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['at', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('from_user', models.F('to_user')), _negated=True), name='hand_over_changes_hands')],
            },
        ),
        migrations.CreateModel(
            name='LotUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('amount', models.CharField(max_length=24)),
                ('unit', models.CharField(max_length=16)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='uses', to='fleet.fluidlot')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lot_uses', to='records.benchrun')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('run', 'lot'), name='lot_once_per_run')],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.CharField(max_length=60)),
                ('key', models.CharField(max_length=100)),
                ('file', models.FileField(upload_to='runs/')),
                ('sha256', models.CharField(max_length=64)),
                ('media_type', models.CharField(max_length=40)),
                ('taken_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='records.benchrun')),
            ],
            options={
                'ordering': ['taken_at', 'id'],
                'constraints': [models.UniqueConstraint(fields=('run', 'key'), name='photo_key_once_per_run')],
            },
        ),
        migrations.CreateModel(
            name='Signature',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=150)),
                ('meaning', models.CharField(choices=[('performed', 'performed the work as described'), ('inspected', 'inspected the work independently')], max_length=12)),
                ('certificate_kind', models.CharField(max_length=60)),
                ('certificate_number', models.CharField(max_length=60)),
                ('authorisation', models.CharField(max_length=60)),
                ('proof', models.CharField(choices=[('password', 'password'), ('passkey', 'passkey')], max_length=12)),
                ('content_digest', models.CharField(max_length=64)),
                ('signed_at', models.DateTimeField()),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to='records.benchrun')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signatures', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['signed_at', 'id'],
                'constraints': [models.UniqueConstraint(fields=('run', 'meaning'), name='one_signature_per_meaning_and_run'), models.UniqueConstraint(fields=('run', 'user'), name='one_signature_per_person_and_run'), models.CheckConstraint(condition=models.Q(models.Q(('certificate_number', ''), _negated=True), models.Q(('certificate_kind', ''), _negated=True)), name='signature_names_a_certificate')],
            },
        ),
        migrations.CreateModel(
            name='SignedRecord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(help_text='registration and sequence, e.g. QX-SKA-000012', max_length=40)),
                ('sequence', models.PositiveIntegerField()),
                ('kind', models.CharField(choices=[('work', 'work entry'), ('inspection', 'inspection entry'), ('amendment', 'amendment')], max_length=12)),
                ('title', models.CharField(max_length=160)),
                ('verdict', models.CharField(blank=True, max_length=20)),
                ('completed_on', models.DateField()),
                ('canonical', models.TextField()),
                ('previous_digest', models.CharField(max_length=64)),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('sealed_at', models.DateTimeField()),
                ('aircraft', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signed_records', to='fleet.aircraft')),
                ('amends', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='amendments', to='records.signedrecord')),
                ('operator', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='signed_records', to='fleet.operator')),
                ('run', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='record', to='records.benchrun')),
            ],
            options={
                'ordering': ['aircraft_id', 'sequence'],
                'indexes': [models.Index(fields=['operator', '-sealed_at'], name='records_sig_operato_56f297_idx')],
                'constraints': [models.UniqueConstraint(fields=('aircraft', 'sequence'), name='record_sequence_once_per_aircraft'), models.UniqueConstraint(fields=('operator', 'number'), name='record_number_once_per_operator'), models.CheckConstraint(condition=models.Q(('sequence__gte', 1)), name='record_sequence_starts_at_one'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'amendment'), _negated=True), ('amends__isnull', False), _connector='OR'), name='amendment_names_what_it_amends')],
            },
        ),
        migrations.CreateModel(
            name='StepAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.CharField(max_length=60)),
                ('key', models.CharField(max_length=100)),
                ('answer', models.JSONField()),
                ('outcome', models.CharField(blank=True, max_length=20)),
                ('outcome_words', models.CharField(blank=True, max_length=300)),
                ('repeat_reason', models.CharField(blank=True, max_length=200)),
                ('captured_at', models.DateTimeField()),
                ('received_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='records.benchrun')),
            ],
            options={
                'ordering': ['captured_at', 'id'],
                'constraints': [models.UniqueConstraint(fields=('run', 'key'), name='answer_key_once_per_run')],
            },
        ),
        migrations.CreateModel(
            name='Measurement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('point', models.CharField(max_length=60)),
                ('side', models.CharField(blank=True, max_length=8)),
                ('value', models.CharField(help_text='as written', max_length=40)),
                ('unit', models.CharField(max_length=16)),
                ('detail', models.JSONField(blank=True, default=dict, help_text='run time, gross and tare, temperature, as written')),
                ('limit', models.JSONField(default=dict)),
                ('verdict', models.CharField(max_length=20)),
                ('margin', models.CharField(blank=True, max_length=80)),
                ('words', models.CharField(blank=True, max_length=300)),
                ('captured_at', models.DateTimeField()),
                ('equipment', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='fleet.equipment')),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measurements', to='records.benchrun')),
                ('answer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='measurements', to='records.stepanswer')),
            ],
            options={
                'ordering': ['captured_at', 'id'],
                'indexes': [models.Index(fields=['point', 'captured_at'], name='records_mea_point_7cbb82_idx')],
            },
        ),
        migrations.CreateModel(
            name='TrendState',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('procedure_code', models.SlugField(max_length=40)),
                ('point', models.CharField(max_length=60)),
                ('channel', models.CharField(max_length=20)),
                ('state', models.CharField(max_length=24)),
                ('words', models.CharField(max_length=400)),
                ('detail', models.JSONField(default=dict)),
                ('computed_at', models.DateTimeField()),
                ('aircraft', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='trend_states', to='fleet.aircraft')),
                ('alarmed_run', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='records.benchrun')),
            ],
            options={
                'ordering': ['aircraft_id', 'point', 'channel'],
                'constraints': [models.UniqueConstraint(fields=('aircraft', 'procedure_code', 'point', 'channel'), name='one_trend_state_per_channel')],
            },
        ),
    ]
