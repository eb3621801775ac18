"""Placements of families are appended only and chained; those that are there are bound as they are."""

from django.db import migrations

from suffice.record import append_only
from suffice.record.chain_start import bind_placements


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0013_outside_accounts'),
    ]

    operations = [
        migrations.RunPython(
            lambda apps, schema_editor: append_only.remove(schema_editor.connection),
            lambda apps, schema_editor: append_only.install(schema_editor.connection),
        ),
        migrations.RunPython(lambda apps, schema_editor: bind_placements(), migrations.RunPython.noop),
        migrations.RunPython(
            lambda apps, schema_editor: append_only.install(schema_editor.connection),
            lambda apps, schema_editor: append_only.remove(schema_editor.connection),
        ),
    ]
