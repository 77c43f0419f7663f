from django.db import migrations, models

from clinic.people.indexing import AddIndexConcurrently, RemoveIndexConcurrently


class Migration(migrations.Migration):

    atomic = False

    dependencies = [
        ('reminders', '0005_pace'),
    ]

    operations = [
        AddIndexConcurrently(
            model_name='message',
            index=models.Index(condition=models.Q(('state', 'pending')), fields=['channel', 'due', 'id'], name='message_waiting'),
        ),
        AddIndexConcurrently(
            model_name='message',
            index=models.Index(condition=models.Q(('state', 'claimed')), fields=['lease_until'], name='message_claimed'),
        ),
        AddIndexConcurrently(
            model_name='message',
            index=models.Index(condition=models.Q(('state__in', ['failed', 'unknown'])), fields=['-created', '-id'], name='message_needs_a_person'),
        ),
        RemoveIndexConcurrently(
            model_name='message',
            name='message_due',
        ),
    ]
