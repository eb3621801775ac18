"""Erasing a family: requests, and what stays of it. The triggers are put on again with theirs."""

import django.db.models.deletion
from django.db import migrations, models

from suffice.record import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0010_first_team'),
    ]

    operations = [
        migrations.RunPython(
            lambda apps, schema_editor: append_only.remove(schema_editor.connection),
            lambda apps, schema_editor: append_only.install(schema_editor.connection),
        ),
        migrations.CreateModel(
            name='ErasureRequest',
            fields=[
                ('family', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, primary_key=True, related_name='+', serialize=False, to='record.family')),
                ('asked_at', models.DateTimeField()),
                ('asked_by', models.TextField()),
                ('why', models.TextField()),
            ],
        ),
        migrations.CreateModel(
            name='Erasure',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('family_id', models.UUIDField(unique=True)),
                ('asked_at', models.DateTimeField()),
                ('asked_by', models.TextField()),
                ('why', models.TextField()),
                ('erased_at', models.DateTimeField()),
                ('erased_by', models.TextField()),
                ('entry_count', models.PositiveIntegerField()),
                ('chain_number', models.PositiveIntegerField()),
                ('chain_hash', models.TextField()),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('asked_by', models.F('erased_by')), _negated=True), name='erased_by_two_people')],
            },
        ),
        migrations.RunPython(
            lambda apps, schema_editor: append_only.install(schema_editor.connection),
            lambda apps, schema_editor: append_only.remove(schema_editor.connection),
        ),
    ]
