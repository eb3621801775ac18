"""Room for two more parts of what orders the families within a group."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0005_caseload_row'),
    ]

    operations = [
        migrations.AddField(
            model_name='caseloadrow', name='order_7', field=models.FloatField(default=0.0)
        ),
        migrations.AddField(
            model_name='caseloadrow', name='order_8', field=models.FloatField(default=0.0)
        ),
    ]
