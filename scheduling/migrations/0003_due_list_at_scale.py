"""Pages of the due list that the indexes answer alone; days that follow newly measured rates."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0002_guards")]

    operations = [
        migrations.RemoveIndex(model_name="duefact", name="due_by_base"),
        migrations.RemoveField(model_name="duefact", name="is_complete"),
        migrations.AddIndex(
            model_name="duefact",
            index=models.Index(
                fields=["operator", "base", "order_day", "applicability"], name="due_by_base"
            ),
        ),
        migrations.AddField(model_name="aircraftuse", name="projected_on", field=models.DateField(null=True)),
    ]
