"""Notes between client and clinician, and when each was read by the other side."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("following", "0003_state_rules"),
        ("prescribing", "0003_days_and_times"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Note",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("note_id", models.UUIDField(unique=True)),
                (
                    "program",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="notes", to="prescribing.program"
                    ),
                ),
                (
                    "log",
                    models.ForeignKey(
                        help_text="The session it is about", null=True, on_delete=django.db.models.deletion.PROTECT,
                        related_name="notes", to="following.sessionlog",
                    ),
                ),
                ("from_client", models.BooleanField()),
                ("text", models.TextField(blank=True, help_text="Empty: the words of the log itself", max_length=2000)),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["-at", "-pk"],
                "indexes": [models.Index(fields=["program", "at"], name="note_program_at")],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("text", ""), _negated=True)
                        | models.Q(("from_client", True), ("log__isnull", False)),
                        name="note_says_something",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="NoteRead",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "note",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="read", to="following.note"
                    ),
                ),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={"abstract": False},
        ),
    ]
