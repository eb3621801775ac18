"""One team for everybody who could sign in before there were teams, and one person who looks after it.

Every family belongs to it: a family without a placement belongs to the first team. Who could
change the policy and add users is a lead; so is the first user, who is an administrator from now on
where nobody was.
"""

from datetime import UTC, datetime
from uuid import UUID

from django.db import migrations

FIRST_TEAM = UUID('00000000-0000-4000-8000-0000000007ea')


def join(apps, schema_editor):
    users = apps.get_model('auth', 'User').objects.order_by('id')
    team = apps.get_model('record', 'Team').objects.create(
        id=FIRST_TEAM, name='Team 1', opened_at=datetime.now(UTC)
    )
    first = users.first()
    if first is not None and not first.is_staff:
        first.is_staff = True
        first.save(update_fields=['is_staff'])
    apps.get_model('record', 'Member').objects.bulk_create(
        apps.get_model('record', 'Member')(
            team=team, user=user, role='lead' if user.is_staff else 'consultant'
        )
        for user in users
    )


class Migration(migrations.Migration):

    dependencies = [
        ('record', '0009_teams_and_people'),
    ]

    operations = [
        migrations.RunPython(join, migrations.RunPython.noop),
    ]
