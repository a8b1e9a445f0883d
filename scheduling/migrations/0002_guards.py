"""What the database itself refuses in the scheduling room."""

from django.db import migrations

from fleet.common.guards import Guard, append_only, install

KEPT = (
    "content",
    "number",
    "procedure_id",
    "approved_reference",
    "approved_revision",
    "ata",
    "consequence",
    "minutes",
    "people",
    "needs_countersignature",
    "is_inspection",
)
CHANGED = " OR ".join(f"NEW.{column} <> OLD.{column}" for column in KEPT)
GUARDS = [
    Guard(
        "procedure_version_once_used_stays",
        "scheduling_procedureversion",
        "UPDATE",
        "a procedure version once used never changes: make a new version",
        f"OLD.first_used_at IS NOT NULL AND (NEW.first_used_at IS NULL OR {CHANGED})",
    ),
    Guard(
        "procedure_version_once_used_no_delete",
        "scheduling_procedureversion",
        "DELETE",
        "a procedure version once used is never deleted",
        "OLD.first_used_at IS NOT NULL",
    ),
    *append_only("scheduling_event"),
    *append_only("scheduling_taskcause"),
]


class Migration(migrations.Migration):
    dependencies = [("scheduling", "0001_initial"), ("fleet", "0002_guards")]
    operations = [install(GUARDS)]
