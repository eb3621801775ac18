"""Somebody's own families are found by an index, not by reading every entry."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0006_longer_order'),
    ]

    operations = [
        migrations.AddIndex(
            model_name='entry',
            index=models.Index(
                fields=['entered_by', 'family', 'entered_at'], name='entries_of_person'
            ),
        ),
    ]
