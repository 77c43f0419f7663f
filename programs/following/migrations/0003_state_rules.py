"""A state says which version of the rule set it was worked out with: a newer one makes it be worked out anew."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("following", "0002_append_only")]

    operations = [
        migrations.AddField(
            model_name="programstate",
            name="rules",
            field=models.PositiveIntegerField(default=0, help_text="Version of the rule set it was worked out with"),
        ),
    ]
