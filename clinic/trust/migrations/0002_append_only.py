"""Rows that are written once: the database refuses an UPDATE, whoever sends it."""

from django.db import migrations

from clinic.people.append_only import refuse_updates


class Migration(migrations.Migration):
    dependencies = [("trust", "0001_initial")]
    operations = [refuse_updates("trust_seal")]
