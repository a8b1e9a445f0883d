"""What the database itself refuses in the fleet room."""

from django.db import migrations

from fleet.common.guards import Guard, append_only, install

OVERLAP = (
    "EXISTS (SELECT 1 FROM fleet_installation o WHERE o.id <> COALESCE(NEW.id, -1) "
    "AND (o.component_id = NEW.component_id OR (o.aircraft_id = NEW.aircraft_id AND o.position_id = NEW.position_id)) "
    "AND (o.removed_at IS NULL OR o.removed_at > NEW.fitted_at) "
    "AND (NEW.removed_at IS NULL OR o.fitted_at < NEW.removed_at))"
)
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
RUNS_BACKWARDS = f"NEW.kind <> 'correction' AND ({EARLIER_READING} OR {LATER_READING})"
CHANGED_FLIGHT = " OR ".join(
    f"NEW.{column} <> OLD.{column}"
    for column in ("aircraft_id", "day", "off_at", "minutes", "landings", "cycles", "reference")
)
GUARDS = [
    Guard(
        "installation_no_overlap_insert",
        "fleet_installation",
        "INSERT",
        "installations of one component or one position may not overlap",
        OVERLAP,
    ),
    Guard(
        "installation_no_overlap_update",
        "fleet_installation",
        "UPDATE",
        "installations of one component or one position may not overlap",
        OVERLAP,
    ),
    Guard(
        "reading_not_backwards",
        "fleet_reading",
        "INSERT",
        "a meter reading may not be lower than an earlier one: post a correction",
        RUNS_BACKWARDS,
    ),
    Guard(
        "meter_not_backwards",
        "fleet_meter",
        "UPDATE",
        "a meter may not run backwards without a correction",
        "NEW.value < OLD.value AND COALESCE(NEW.last_correction_id, 0) = COALESCE(OLD.last_correction_id, 0) "
        "AND COALESCE(NEW.last_void_id, 0) = COALESCE(OLD.last_void_id, 0)",
    ),
    Guard(
        "flight_figures_never_change",
        "fleet_flightentry",
        "UPDATE",
        "the figures of a flight never change: void it with a reason and post another",
        f"{CHANGED_FLIGHT} OR (OLD.voided_at IS NOT NULL AND NEW.voided_at IS NULL)",
    ),
    Guard("flight_never_deleted", "fleet_flightentry", "DELETE", "flights are voided, never deleted"),
    *append_only("fleet_reading"),
    *append_only("fleet_trailentry"),
    *append_only("fleet_uplift"),
    *append_only("fleet_calibration"),
]
# Two writers at the same moment cannot see each other's rows in a trigger; an exclusion constraint can.
EXCLUSIONS = [
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    "ALTER TABLE fleet_installation ADD CONSTRAINT installation_component_never_overlaps EXCLUDE USING gist "
    "(component_id WITH =, tstzrange(fitted_at, removed_at) WITH &&)",
    "ALTER TABLE fleet_installation ADD CONSTRAINT installation_position_never_overlaps EXCLUDE USING gist "
    "(aircraft_id WITH =, position_id WITH =, tstzrange(fitted_at, removed_at) WITH &&)",
]


def add_exclusions(_apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        for statement in EXCLUSIONS:
            schema_editor.execute(statement, params=None)


def drop_exclusions(_apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        for name in ("installation_component_never_overlaps", "installation_position_never_overlaps"):
            schema_editor.execute(f"ALTER TABLE fleet_installation DROP CONSTRAINT IF EXISTS {name}", params=None)


class Migration(migrations.Migration):
    dependencies = [("fleet", "0001_initial")]
    operations = [install(GUARDS), migrations.RunPython(add_exclusions, drop_exclusions)]
