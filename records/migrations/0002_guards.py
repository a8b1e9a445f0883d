"""What the database itself refuses in the records room: what was entered, signed or sealed stays."""

from django.db import migrations

from fleet.common.guards import Guard, append_only, install

GUARDS = [
    Guard(
        "signed_run_no_update",
        "records_benchrun",
        "UPDATE",
        "a signed run never changes: write an amendment",
        "OLD.state = 'signed'",
    ),
    Guard("run_no_delete", "records_benchrun", "DELETE", "runs are never deleted: abandon with a reason"),
    *append_only("records_stepanswer"),
    *append_only("records_measurement"),
    *append_only("records_signature"),
    *append_only("records_signedrecord"),
    *append_only("records_photo"),
    *append_only("records_handover"),
]


class Migration(migrations.Migration):
    dependencies = [("records", "0001_initial"), ("scheduling", "0002_guards")]
    operations = [install(GUARDS)]
