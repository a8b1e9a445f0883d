"""When a worker took a flight file on, so that one whose worker died is taken up again."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0004_flight_indexes")]

    operations = [
        migrations.AddField(
            model_name="flightupload",
            name="claimed_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
