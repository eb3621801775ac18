"""The model of a caseload row gets its name; the table in the database keeps the one it has."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0004_jobs_and_arrivals'),
    ]

    operations = [
        migrations.AlterModelTable(name='Standing', table='record_standing'),
        migrations.RenameModel(old_name='Standing', new_name='CaseloadRow'),
        migrations.AlterField(
            model_name='caseloadrow',
            name='family',
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                primary_key=True,
                related_name='caseload_row',
                serialize=False,
                to='record.family',
            ),
        ),
    ]
