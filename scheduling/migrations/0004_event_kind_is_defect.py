"""A kind of event says itself whether something was found wrong: the work it raises is closed, not withdrawn."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0003_due_list")]

    operations = [
        migrations.AddField(
            model_name="eventkind",
            name="is_defect",
            field=models.BooleanField(
                default=False, help_text="something was found wrong: its work is closed, not withdrawn"
            ),
        ),
        migrations.AlterField(
            model_name="task",
            name="before_amount",
            field=models.PositiveIntegerField(blank=True, help_text="days or flight minutes", null=True),
        ),
    ]
