"""Notes and their reading are written once: the database refuses an UPDATE, whoever sends it."""

from django.db import migrations

from clinic.people.append_only import refuse_updates


class Migration(migrations.Migration):
    dependencies = [("following", "0004_notes")]
    operations = [refuse_updates("following_note", "following_noteread")]
