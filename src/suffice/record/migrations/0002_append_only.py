"""The triggers that refuse UPDATE and DELETE; see record/append_only.py."""

from django.db import migrations

from suffice.record import append_only


class Migration(migrations.Migration):
    dependencies = [("record", "0001_initial")]

    operations = [
        migrations.RunPython(
            lambda apps, schema_editor: append_only.install(schema_editor.connection),
            lambda apps, schema_editor: append_only.remove(schema_editor.connection),
        ),
    ]
