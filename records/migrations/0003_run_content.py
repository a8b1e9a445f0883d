"""What is signed, as it stood when the run was finished."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("records", "0002_guards")]
    # Empty allowed and no default: SQLite adds the column in place and the table keeps its guards.
    operations = [
        migrations.AddField("benchrun", "content", models.JSONField(blank=True, null=True)),
    ]
