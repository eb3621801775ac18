"""The triggers that refuse UPDATE and DELETE stood here; 0004 puts them in place, as they now are."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("record", "0001_initial")]

    operations = []
