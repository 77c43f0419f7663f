"""Days of the week and times of day of a phase, one bit each; 0 leaves them open, as they were."""

from django.db import migrations, models
from django.db.models import F, Q

TABLE = "prescribing_phase"


def bits(field, count):
    total = F(field).bitand(1)
    for place in range(1, count):
        total = total + F(field).bitand(1 << place) / (1 << place)
    return total


def forbid_again(apps, schema_editor):
    # SQLite builds a table anew to change it, and the new one is without its trigger
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(
            f"CREATE TRIGGER IF NOT EXISTS {TABLE}_append_only BEFORE UPDATE ON {TABLE} "
            f"BEGIN SELECT RAISE(ABORT, '{TABLE} rows are append-only'); END"
        )


class Migration(migrations.Migration):
    dependencies = [("prescribing", "0002_append_only")]
    operations = [
        migrations.RunPython(migrations.RunPython.noop, forbid_again),
        migrations.AddField("phase", "weekdays", models.PositiveSmallIntegerField(default=0)),
        migrations.AddField("phase", "times", models.PositiveSmallIntegerField(default=0)),
        migrations.AddConstraint(
            "phase",
            models.CheckConstraint(
                condition=Q(weekdays=0) | Q(weekdays__lte=127, days_per_week=bits("weekdays", 7)),
                name="phase_weekdays_as_many_as_said",
            ),
        ),
        migrations.AddConstraint(
            "phase",
            models.CheckConstraint(
                condition=Q(times=0) | Q(times__lte=7, sessions_full=bits("times", 3)), name="phase_time_for_each_session"
            ),
        ),
        migrations.RunPython(forbid_again, migrations.RunPython.noop),
    ]
