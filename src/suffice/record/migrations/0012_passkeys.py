"""Passkeys of the people who sign in."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ('record', '0011_erasure'),
    ]

    operations = [
        migrations.CreateModel(
            name='Passkey',
            fields=[
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('credential_id', models.TextField(unique=True)),
                ('credential', models.TextField()),
                ('called', models.TextField()),
                ('made_at', models.DateTimeField()),
                ('used_at', models.DateTimeField(null=True)),
                ('count', models.BigIntegerField(default=0)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
    ]
