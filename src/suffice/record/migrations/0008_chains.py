"""Hash chains, seals and the trail; whatever is stored by then is bound as it is.

The triggers are put on again with those of the new tables. Undoing it loses the trail.
"""

from django.db import migrations, models

from suffice.record import append_only, chain_start


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0007_entries_of_person'),
    ]

    operations = [
        migrations.RunPython(
            lambda apps, schema_editor: append_only.remove(schema_editor.connection)
        ),
        migrations.CreateModel(
            name='ChainHead',
            fields=[
                ('chain', models.TextField(primary_key=True, serialize=False)),
                ('number', models.PositiveIntegerField()),
                ('hash', models.TextField()),
                ('sealed_number', models.PositiveIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name='Damage',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('code', models.TextField()),
                ('family_id', models.UUIDField(db_index=True, null=True)),
                ('form', models.TextField()),
                ('key', models.TextField()),
            ],
            options={
                'verbose_name_plural': 'damage',
            },
        ),
        migrations.CreateModel(
            name='Seal',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('day', models.DateField()),
                ('heads', models.TextField()),
            ],
        ),
        migrations.CreateModel(
            name='Verification',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('began_at', models.DateTimeField(db_index=True)),
                ('ended_at', models.DateTimeField()),
                ('link_count', models.PositiveIntegerField()),
                ('row_count', models.PositiveIntegerField()),
                ('damage_count', models.PositiveIntegerField()),
            ],
        ),
        migrations.AddField(
            model_name='arrival',
            name='brought_by',
            field=models.TextField(default=''),
        ),
        migrations.CreateModel(
            name='Link',
            fields=[
                ('seq', models.BigAutoField(primary_key=True, serialize=False)),
                ('chain', models.TextField()),
                ('number', models.PositiveIntegerField()),
                ('made_at', models.DateTimeField()),
                ('rows', models.TextField()),
                ('hash', models.TextField()),
                ('arrival', models.BigIntegerField(null=True)),
            ],
            options={
                'indexes': [models.Index(condition=models.Q(('arrival__isnull', False)), fields=['arrival'], name='links_of_arrival')],
                'constraints': [models.UniqueConstraint(fields=('chain', 'number'), name='one_link_per_place')],
            },
        ),
        migrations.CreateModel(
            name='TrailEvent',
            fields=[
                ('seq', models.BigAutoField(primary_key=True, serialize=False)),
                ('id', models.UUIDField(unique=True)),
                ('at', models.DateTimeField(db_index=True)),
                ('who', models.TextField()),
                ('act', models.TextField()),
                ('page', models.TextField()),
                ('method', models.TextField()),
                ('status', models.PositiveSmallIntegerField()),
                ('family_id', models.UUIDField(null=True)),
                ('about', models.TextField()),
                ('why', models.TextField()),
                ('address', models.TextField()),
            ],
            options={
                'indexes': [models.Index(fields=['family_id', 'seq'], name='events_of_family'), models.Index(fields=['who', 'seq'], name='events_of_person')],
            },
        ),
        migrations.RunPython(lambda apps, schema_editor: chain_start.start()),
        migrations.RunPython(
            lambda apps, schema_editor: append_only.install(schema_editor.connection)
        ),
    ]
