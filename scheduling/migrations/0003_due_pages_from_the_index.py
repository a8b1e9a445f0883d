"""Pages of the due list that the indexes answer alone; whether nothing is left stands in the sorting day."""

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
    ]
