"""Flights keep only the indexes that something searches: each costs every import."""

from importlib import import_module

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from fleet.common.guards import install, lift

# The table is altered below, and SQLite drops the triggers of a table it rebuilds.
FLIGHT_GUARDS = [
    guard
    for guard in import_module("fleet.migrations.0003_life_limits_and_uploads").GUARDS
    if guard.table == "fleet_flightentry"
]


def person(**more):
    return models.ForeignKey(
        db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+",
        to=settings.AUTH_USER_MODEL, **more
    )


class Migration(migrations.Migration):
    dependencies = [("fleet", "0003_life_limits_and_uploads")]

    operations = [
        lift(FLIGHT_GUARDS),
        migrations.AlterField(
            model_name="flightentry",
            name="aircraft",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="flights",
                to="fleet.aircraft",
            ),
        ),
        migrations.AlterField(model_name="flightentry", name="entered_by", field=person()),
        migrations.AlterField(model_name="flightentry", name="voided_by", field=person(blank=True)),
        install(FLIGHT_GUARDS),
    ]
