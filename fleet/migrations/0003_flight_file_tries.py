"""A flight file that breaks every import is given up after some tries, and says so."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fleet", "0002_guards")]
    operations = [
        migrations.AddField(
            model_name="flightupload", name="tries", field=models.PositiveSmallIntegerField(default=0)
        ),
        migrations.AlterField(
            model_name="flightupload",
            name="state",
            field=models.CharField(
                choices=[
                    ("checked", "checked, not imported"),
                    ("asked", "import asked for"),
                    ("working", "being imported"),
                    ("done", "imported"),
                    ("refused", "refused"),
                    ("failed", "broken off"),
                ],
                default="checked",
                max_length=12,
            ),
        ),
    ]
