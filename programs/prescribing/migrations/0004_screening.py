"""Screenings before exercise, and why a clinician went on against one; both written once."""

import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models

from clinic.people.append_only import refuse_updates


class Migration(migrations.Migration):

    dependencies = [
        ('people', '0002_append_only'),
        ('prescribing', '0003_days_and_times'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Screening',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('day', models.DateField(help_text="The day it was asked, in the client's zone")),
                ('at', models.DateTimeField()),
                ('active', models.BooleanField(help_text='30 minutes or more on 3 days a week or more for the last 3 months')),
                ('intensity', models.CharField(choices=[('light_moderate', 'Light to moderate: talking stays easy'), ('vigorous', 'Vigorous: a few words at a time')], help_text='The hardest that is planned', max_length=16)),
                ('diseases', models.JSONField(default=list)),
                ('signs', models.JSONField(default=list)),
                ('red_flags', models.JSONField(default=list)),
                ('cleared_on', models.DateField(help_text='A doctor who knew of the answers allowed exercise on this day', null=True)),
                ('note', models.CharField(blank=True, max_length=300)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('client', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='screenings', to='people.client')),
            ],
            options={
                'ordering': ['-day', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='ScreeningOverride',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(help_text='What stood in the way: a code of rules.screening', max_length=16)),
                ('reason', models.CharField(max_length=300)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('program', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='screening_overrides', to='prescribing.program')),
                ('screening', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='overrides', to='prescribing.screening')),
            ],
            options={
                'ordering': ['program', 'pk'],
            },
        ),
        migrations.AddIndex(
            model_name='screening',
            index=models.Index(fields=['client', '-day'], name='screening_newest'),
        ),
        migrations.AddConstraint(
            model_name='screening',
            constraint=models.CheckConstraint(condition=models.Q(('cleared_on__isnull', True), ('cleared_on__lte', models.F('day')), _connector='OR'), name='screening_cleared_before'),
        ),
        migrations.AddConstraint(
            model_name='screening',
            constraint=models.CheckConstraint(condition=models.Q(('intensity__in', ['light_moderate', 'vigorous'])), name='screening_intensity_known'),
        ),
        migrations.AddConstraint(
            model_name='screeningoverride',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='screening_override_has_a_reason'),
        ),
        refuse_updates("prescribing_screening", "prescribing_screeningoverride"),
    ]
