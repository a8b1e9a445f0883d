"""The due list reads one table; rates of use, saved views, variations for one limit, relief by any clock."""

import datetime

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0002_guards"),
        ("scheduling", "0002_guards"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.DeleteModel(name="DueFact"),
        migrations.CreateModel(
            name="DueFact",
            fields=[
                (
                    "applicability",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="due_fact",
                        serialize=False,
                        to="scheduling.applicability",
                    ),
                ),
                (
                    "operator",
                    models.ForeignKey(
                        db_index=False,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="fleet.operator",
                    ),
                ),
                (
                    "aircraft",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="due_facts",
                        to="fleet.aircraft",
                    ),
                ),
                (
                    "aircraft_type",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="+",
                        to="fleet.aircrafttype",
                    ),
                ),
                (
                    "base",
                    models.ForeignKey(
                        db_index=False,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="due_facts",
                        to="fleet.base",
                    ),
                ),
                ("registration", models.CharField(blank=True, max_length=12)),
                ("code", models.SlugField(db_index=False, max_length=40)),
                ("title", models.CharField(max_length=140)),
                (
                    "subject",
                    models.CharField(blank=True, help_text="the component, where it is one", max_length=170),
                ),
                ("consequence", models.CharField(max_length=16)),
                ("ata", models.CharField(max_length=8)),
                ("due_day", models.IntegerField(null=True)),
                ("lawful_day", models.IntegerField(null=True)),
                ("due_minutes", models.BigIntegerField(null=True)),
                ("due_landings", models.IntegerField(null=True)),
                ("due_cycles", models.IntegerField(null=True)),
                ("soon_minutes", models.BigIntegerField(null=True)),
                ("soon_landings", models.IntegerField(null=True)),
                ("soon_cycles", models.IntegerField(null=True)),
                ("lawful_minutes", models.BigIntegerField(null=True)),
                ("lawful_landings", models.IntegerField(null=True)),
                ("lawful_cycles", models.IntegerField(null=True)),
                (
                    "is_plain",
                    models.BooleanField(
                        default=False,
                        help_text="whichever first, one limit of a kind: these columns say all of it",
                    ),
                ),
                ("soon_day", models.IntegerField(null=True)),
                ("unknown_day", models.IntegerField(null=True)),
                ("reached_day", models.IntegerField(null=True)),
                ("overdue_day", models.IntegerField(null=True)),
                ("projected_day", models.IntegerField(null=True)),
                ("earliest_day", models.IntegerField(null=True)),
                ("latest_day", models.IntegerField(null=True)),
                ("order_day", models.IntegerField()),
                ("is_counter_overdue", models.BooleanField(default=False)),
                (
                    "is_known",
                    models.BooleanField(
                        default=True, help_text="false where nothing was ever recorded as done"
                    ),
                ),
                ("is_complete", models.BooleanField(default=False)),
                ("computed_at", models.DateTimeField()),
            ],
            options={
                "indexes": [
                    models.Index(fields=["operator", "order_day", "applicability"], name="due_by_day"),
                    models.Index(fields=["base", "order_day", "applicability"], name="due_by_base"),
                    models.Index(fields=["aircraft_type", "order_day", "applicability"], name="due_by_type"),
                    models.Index(fields=["aircraft", "order_day", "applicability"], name="due_by_aircraft"),
                    models.Index(
                        fields=["operator", "registration", "order_day", "applicability"],
                        name="due_by_registration",
                    ),
                ],
            },
        ),
        migrations.CreateModel(
            name="AircraftUse",
            fields=[
                (
                    "aircraft",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="measured_use",
                        serialize=False,
                        to="fleet.aircraft",
                    ),
                ),
                ("measured_on", models.DateField(null=True)),
                ("rate", models.JSONField(default=dict)),
                ("reckoned_minutes", models.BigIntegerField(null=True)),
                ("reckoned_landings", models.BigIntegerField(null=True)),
                ("reckoned_cycles", models.BigIntegerField(null=True)),
            ],
        ),
        migrations.CreateModel(
            name="SavedView",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("name", models.CharField(max_length=60)),
                ("query", models.JSONField(default=dict)),
                ("is_shared", models.BooleanField(default=False)),
            ],
            options={
                "ordering": ["name", "id"],
            },
        ),
        migrations.CreateModel(
            name="TypeUse",
            fields=[
                (
                    "aircraft_type",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        primary_key=True,
                        related_name="measured_use",
                        serialize=False,
                        to="fleet.aircrafttype",
                    ),
                ),
                ("measured_on", models.DateField()),
                ("bands", models.JSONField(default=list)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="variation",
            name="one_open_variation_per_limit",
        ),
        migrations.AddField(
            model_name="relief",
            name="amount",
            field=models.PositiveIntegerField(
                default=1, help_text="days, flight days, minutes, cycles or flights"
            ),
        ),
        migrations.AddField(
            model_name="relief",
            name="at_deferral",
            field=models.PositiveBigIntegerField(
                blank=True, help_text="the counter when it was deferred, where it counts one", null=True
            ),
        ),
        migrations.AddField(
            model_name="relief",
            name="unit",
            field=models.CharField(default="days", max_length=12),
        ),
        migrations.AddField(
            model_name="reliefcategory",
            name="starts_at",
            field=models.TimeField(
                default=datetime.time(0, 0), help_text="when the clock starts on the day after the record"
            ),
        ),
        migrations.AddField(
            model_name="requirement",
            name="design_caps",
            field=models.JSONField(
                blank=True,
                default=dict,
                help_text="the most the design holder lets each limit vary, by its path",
            ),
        ),
        migrations.AddField(
            model_name="requirement",
            name="event_kind",
            field=models.ForeignKey(
                blank=True,
                help_text="what limits “since the event” count from",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="requirements",
                to="scheduling.eventkind",
            ),
        ),
        migrations.AddField(
            model_name="variation",
            name="for_due",
            field=models.JSONField(default=None, null=True),
        ),
        migrations.AddField(
            model_name="variation",
            name="in_months",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="variation",
            name="path",
            field=models.CharField(default="1", max_length=24),
        ),
        migrations.AlterField(
            model_name="relief",
            name="ends_at",
            field=models.DateTimeField(
                blank=True,
                help_text="empty while its flights, hours or flight days are not used up",
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="variation",
            constraint=models.UniqueConstraint(
                condition=models.Q(("used_at", None), ("withdrawn_at", None)),
                fields=("applicability", "path"),
                name="one_open_variation_per_limit",
            ),
        ),
        migrations.AddField(
            model_name="savedview",
            name="operator",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE, related_name="saved_views", to="fleet.operator"
            ),
        ),
        migrations.AddField(
            model_name="savedview",
            name="owner",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="saved_views",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="savedview",
            constraint=models.UniqueConstraint(
                fields=("operator", "owner", "name"), name="saved_view_name_once_per_person"
            ),
        ),
        migrations.AddConstraint(
            model_name="savedview",
            constraint=models.CheckConstraint(
                condition=models.Q(("name", ""), _negated=True), name="saved_view_has_a_name"
            ),
        ),
    ]
