"""Accounts at an identity provider, linked to the people of the clinic."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ('record', '0012_passkeys'),
    ]

    operations = [
        migrations.CreateModel(
            name='OutsideAccount',
            fields=[
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='+', serialize=False, to=settings.AUTH_USER_MODEL)),
                ('issuer', models.TextField()),
                ('subject', models.TextField(default='')),
                ('mail', models.TextField(default='')),
                ('linked_at', models.DateTimeField()),
                ('linked_by', models.TextField()),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('issuer', 'subject', 'mail'), name='one_person_for_an_outside_account')],
            },
        ),
    ]
