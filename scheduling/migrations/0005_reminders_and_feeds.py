"""Reminders know their stage and matter; ladders, choices of mail, and what calendars were told."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0003_life_limits_and_uploads'),
        ('scheduling', '0004_event_kind_is_defect'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='CalendarEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uid', models.CharField(max_length=255)),
                ('digest', models.CharField(max_length=64)),
                ('sequence', models.PositiveIntegerField(default=0)),
                ('modified_at', models.DateTimeField()),
            ],
            options={
                'verbose_name_plural': 'calendar entries',
            },
        ),
        migrations.CreateModel(
            name='ReminderChoice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('by_mail', models.CharField(choices=[('digest', 'one digest each morning'), ('at_once', 'each reminder at once, outside quiet hours'), ('none', 'no mail')], default='digest', max_length=8)),
            ],
        ),
        migrations.CreateModel(
            name='ReminderLadder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('consequence', models.CharField(choices=[('airworthiness', 'no flight'), ('icing', 'no flight into known or forecast icing'), ('operation', 'a kind of operation'), ('none', 'nothing')], max_length=16)),
                ('steps', models.JSONField(help_text='what `scheduling.due.ladder.ladder_from_data` reads')),
                ('version', models.PositiveIntegerField(default=1)),
            ],
            options={
                'ordering': ['consequence'],
            },
        ),
        migrations.RemoveIndex(
            model_name='reminder',
            name='reminders_waiting',
        ),
        migrations.AddField(
            model_name='reminder',
            name='acknowledge_by',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='reminder',
            name='detail',
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name='reminder',
            name='digest',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='gathered', to='scheduling.reminder'),
        ),
        migrations.AddField(
            model_name='reminder',
            name='matter',
            field=models.CharField(db_index=True, default='', max_length=160),
        ),
        migrations.AddField(
            model_name='reminder',
            name='settled_at',
            field=models.DateTimeField(blank=True, help_text='the matter stands otherwise since: done, or at a further step', null=True),
        ),
        migrations.AddField(
            model_name='reminder',
            name='stage',
            field=models.CharField(choices=[('before', 'ahead'), ('reached', 'due now'), ('overdue', 'overdue'), ('escalated', 'not acknowledged in time'), ('digest', 'morning digest'), ('test', 'test')], default='before', max_length=10),
        ),
        migrations.AddField(
            model_name='webhookendpoint',
            name='disabled_reason',
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddIndex(
            model_name='reminder',
            index=models.Index(condition=models.Q(('failed_reason', ''), ('sent_at', None), ('settled_at', None)), fields=['send_after'], name='reminders_waiting'),
        ),
        migrations.AddIndex(
            model_name='reminder',
            index=models.Index(condition=models.Q(('acknowledge_by__isnull', False), ('acknowledged_at', None), ('escalated_at', None)), fields=['acknowledge_by'], name='reminders_to_acknowledge'),
        ),
        migrations.AddConstraint(
            model_name='reminder',
            constraint=models.CheckConstraint(condition=models.Q(('recipient__isnull', False), ('endpoint__isnull', False), _connector='OR'), name='reminder_goes_to_somebody'),
        ),
        migrations.AddConstraint(
            model_name='reminder',
            constraint=models.CheckConstraint(condition=models.Q(('snoozed_until', None), models.Q(('snooze_reason', ''), _negated=True), _connector='OR'), name='snoozed_reminder_has_a_reason'),
        ),
        migrations.AddField(
            model_name='calendarentry',
            name='operator',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.operator'),
        ),
        migrations.AddField(
            model_name='reminderchoice',
            name='operator',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.operator'),
        ),
        migrations.AddField(
            model_name='reminderchoice',
            name='person',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='reminder_choices', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='reminderladder',
            name='operator',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='reminder_ladders', to='fleet.operator'),
        ),
        migrations.AddConstraint(
            model_name='calendarentry',
            constraint=models.UniqueConstraint(fields=('operator', 'uid'), name='calendar_uid_once_per_operator'),
        ),
        migrations.AddConstraint(
            model_name='reminderchoice',
            constraint=models.UniqueConstraint(fields=('operator', 'person'), name='reminder_choice_once_per_person'),
        ),
        migrations.AddConstraint(
            model_name='reminderladder',
            constraint=models.UniqueConstraint(fields=('operator', 'consequence'), name='ladder_once_per_consequence'),
        ),
    ]
