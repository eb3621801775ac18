"""Jobs, and imports that come onto the record all at once; the triggers as they now are.

It cannot be undone: without `arrival`, rows that never came onto the record would be on it.
"""

from django.db import migrations, models

from suffice.record import append_only


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0003_sign_in_tries'),
    ]

    operations = [
        migrations.RunPython(
            lambda apps, schema_editor: append_only.remove(schema_editor.connection)
        ),
        migrations.CreateModel(
            name='Arrival',
            fields=[
                ('number', models.BigIntegerField(primary_key=True, serialize=False)),
                ('arrived_at', models.DateTimeField()),
                ('opened_count', models.PositiveIntegerField()),
                ('entry_count', models.PositiveIntegerField()),
            ],
        ),
        migrations.CreateModel(
            name='Job',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('id', models.UUIDField(db_index=True)),
                ('kind', models.TextField()),
                ('state', models.TextField()),
                ('stage', models.TextField(default='')),
                ('done', models.PositiveIntegerField(default=0)),
                ('total', models.PositiveIntegerField(default=0)),
                ('started_by', models.TextField()),
                ('asked_at', models.DateTimeField()),
                ('alive_at', models.DateTimeField(db_index=True)),
                ('ended_at', models.DateTimeField(null=True)),
                ('is_cancel_asked', models.BooleanField(default=False)),
                ('slot', models.TextField(null=True, unique=True)),
                ('incident', models.TextField(default='')),
                ('result', models.TextField(default='')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'running', 'done', 'failed', 'cancelled', 'interrupted'])), name='job_state_is_known')],
            },
        ),
        migrations.AddField(
            model_name='entry',
            name='arrival',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='family',
            name='arrival',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name='infant',
            name='arrival',
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddIndex(
            model_name='entry',
            index=models.Index(fields=['infant'], name='entries_of_infant'),
        ),
        migrations.AddIndex(
            model_name='entry',
            index=models.Index(condition=models.Q(('arrival__isnull', False)), fields=['arrival'], name='entries_of_arrival'),
        ),
        migrations.RunPython(
            lambda apps, schema_editor: append_only.install(schema_editor.connection)
        ),
    ]
