"""Life limits and dispositions, flight files on their way in, voided flights named on the meters they moved."""

from dataclasses import replace
from importlib import import_module

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from fleet.common.guards import Guard, install, lift

first_guards = import_module("fleet.migrations.0002_guards")


# The tables are altered below, and SQLite drops the triggers of a table it rebuilds.
ALTERED = [
    guard
    for guard in first_guards.GUARDS
    if guard.table in ("fleet_installation", "fleet_meter") or guard.name == "reading_not_backwards"
]
# A correction at the very moment of a reading puts that reading right, too.
EARLIER_READING = (
    "EXISTS (SELECT 1 FROM fleet_reading r WHERE r.meter_id = NEW.meter_id AND r.at <= NEW.at "
    "AND r.value > NEW.value AND NOT EXISTS (SELECT 1 FROM fleet_reading c WHERE c.meter_id = NEW.meter_id "
    "AND c.kind = 'correction' AND (c.at > r.at OR (c.at = r.at AND c.id > r.id)) AND c.at <= NEW.at))"
)
LATER_READING = (
    "EXISTS (SELECT 1 FROM fleet_reading r WHERE r.meter_id = NEW.meter_id AND r.at > NEW.at "
    "AND r.value < NEW.value AND r.kind <> 'correction' AND NOT EXISTS (SELECT 1 FROM fleet_reading c "
    "WHERE c.meter_id = NEW.meter_id AND c.kind = 'correction' AND c.at > NEW.at AND c.at <= r.at))"
)
CHANGED_FLIGHT = " OR ".join(
    f"NEW.{column} <> OLD.{column}"
    for column in ("aircraft_id", "day", "off_at", "minutes", "landings", "cycles", "reference")
)
REPLACED = {
    "reading_not_backwards": f"NEW.kind <> 'correction' AND ({EARLIER_READING} OR {LATER_READING})",
    "meter_not_backwards": (
        "NEW.value < OLD.value AND COALESCE(NEW.last_correction_id, 0) = COALESCE(OLD.last_correction_id, 0) "
        "AND COALESCE(NEW.last_void_id, 0) = COALESCE(OLD.last_void_id, 0)"
    ),
}
GUARDS = [
    *(replace(guard, when=REPLACED.get(guard.name, guard.when)) for guard in ALTERED),
    Guard(
        "flight_figures_never_change",
        "fleet_flightentry",
        "UPDATE",
        "the figures of a flight never change: void it with a reason and post another",
        f"{CHANGED_FLIGHT} OR (OLD.voided_at IS NOT NULL AND NEW.voided_at IS NULL)",
    ),
    Guard("flight_never_deleted", "fleet_flightentry", "DELETE", "flights are voided, never deleted"),
]


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0002_guards"),
    ]

    operations = [
        lift(ALTERED),
        migrations.CreateModel(
            name="FlightUpload",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("file", models.FileField(upload_to="flight-uploads/")),
                ("filename", models.CharField(max_length=200)),
                ("mapping", models.JSONField(default=dict)),
                ("report", models.JSONField(default=dict)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("checked", "checked, not imported"),
                            ("asked", "import asked for"),
                            ("working", "being imported"),
                            ("done", "imported"),
                            ("refused", "refused"),
                        ],
                        default="checked",
                        max_length=12,
                    ),
                ),
                ("leaves_out_bad_rows", models.BooleanField(default=False)),
                ("uploaded_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="LifeLimit",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("part_number", models.CharField(blank=True, max_length=60)),
                (
                    "parameter",
                    models.CharField(
                        choices=[
                            ("minutes", "flight time"),
                            ("landings", "landings"),
                            ("cycles", "engine cycles"),
                            ("months", "calendar months"),
                        ],
                        max_length=12,
                    ),
                ),
                ("limit", models.PositiveBigIntegerField()),
                ("source", models.CharField(max_length=120)),
            ],
            options={
                "ordering": ["kind_id", "part_number", "parameter"],
            },
        ),
        migrations.AddField(
            model_name="aircrafttype",
            name="version",
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AddField(
            model_name="base",
            name="version",
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AddField(
            model_name="installation",
            name="disposed_by",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="installation",
            name="disposed_on",
            field=models.DateField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name="installation",
            name="disposition",
            field=models.CharField(
                blank=True,
                choices=[
                    ("record_system", "record-keeping system"),
                    ("tag", "tag or other record attached to the part"),
                    ("mark", "non-permanent mark on the part"),
                    ("permanent_mark", "permanent mark on the part"),
                    ("segregation", "segregation"),
                    ("mutilation", "mutilation"),
                    ("other", "other method accepted by the authority"),
                ],
                max_length=16,
            ),
        ),
        migrations.AddField(
            model_name="installation",
            name="disposition_note",
            field=models.CharField(blank=True, max_length=200),
        ),
        migrations.AddField(
            model_name="meter",
            name="last_void",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="fleet.flightentry",
            ),
        ),
        migrations.AddField(
            model_name="user",
            name="must_change_password",
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name="user",
            name="version",
            field=models.PositiveIntegerField(default=1),
        ),
        migrations.AddIndex(
            model_name="flightentry",
            index=models.Index(fields=["-off_at", "-id"], name="fleet_fligh_off_at_37869d_idx"),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("disposition", ""),
                    models.Q(("disposed_on__isnull", False), ("removed_at__isnull", False)),
                    _connector="OR",
                ),
                name="disposition_only_of_a_removed_part",
            ),
        ),
        migrations.AddConstraint(
            model_name="installation",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("disposition", "other"), _negated=True),
                    models.Q(("disposition_note", ""), _negated=True),
                    _connector="OR",
                ),
                name="other_disposition_is_described",
            ),
        ),
        migrations.AddField(
            model_name="flightupload",
            name="batch",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to="fleet.importbatch"
            ),
        ),
        migrations.AddField(
            model_name="flightupload",
            name="operator",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.CASCADE,
                related_name="flight_uploads",
                to="fleet.operator",
            ),
        ),
        migrations.AddField(
            model_name="flightupload",
            name="uploaded_by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="lifelimit",
            name="kind",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="life_limits",
                to="fleet.componentkind",
            ),
        ),
        migrations.AddField(
            model_name="lifelimit",
            name="operator",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="life_limits", to="fleet.operator"
            ),
        ),
        migrations.AddConstraint(
            model_name="lifelimit",
            constraint=models.UniqueConstraint(
                fields=("kind", "part_number", "parameter"), name="life_limit_once_per_part_and_parameter"
            ),
        ),
        migrations.AddConstraint(
            model_name="lifelimit",
            constraint=models.CheckConstraint(
                condition=models.Q(("limit__gt", 0)), name="life_limit_above_zero"
            ),
        ),
        migrations.AddConstraint(
            model_name="lifelimit",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="life_limit_names_its_source"
            ),
        ),
        install(GUARDS),
    ]
