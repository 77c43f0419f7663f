"""A measure of both sides may know how large a difference between them goes beyond error."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("visits", "0002_append_only")]

    operations = [
        migrations.AddField(
            model_name="measure",
            name="side_mdc",
            field=models.FloatField(blank=True, help_text="Smallest difference between the sides beyond error", null=True),
        ),
    ]
