"""Teams, who belongs to them and whose a family is; one-time links, second factors."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
        ('record', '0008_chains'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Person',
            fields=[
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='person', serialize=False, to=settings.AUTH_USER_MODEL)),
                ('profession', models.TextField(default='')),
                ('is_auditor', models.BooleanField(default=False)),
                ('factor', models.TextField(default='')),
                ('factor_from', models.DateTimeField(null=True)),
                ('last_step', models.BigIntegerField(default=0)),
            ],
        ),
        migrations.CreateModel(
            name='Team',
            fields=[
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('name', models.TextField(unique=True)),
                ('opened_at', models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name='EmergencyAccess',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('reason', models.TextField()),
                ('begun_at', models.DateTimeField()),
                ('until', models.DateTimeField()),
                ('seen_at', models.DateTimeField(null=True)),
                ('seen_by', models.TextField(default='')),
                ('family', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='record.family')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='OneTimeLink',
            fields=[
                ('digest', models.TextField(primary_key=True, serialize=False)),
                ('made_at', models.DateTimeField()),
                ('made_by', models.TextField()),
                ('until', models.DateTimeField()),
                ('user', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='RecoveryCode',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.TextField()),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('user', 'digest'), name='no_recovery_code_twice')],
            },
        ),
        migrations.CreateModel(
            name='Placement',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('placed_at', models.DateTimeField()),
                ('placed_by', models.TextField()),
                ('note', models.TextField(default='')),
                ('arrival', models.BigIntegerField(null=True)),
                ('colleague', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('family', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='record.family')),
                ('team', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='record.team')),
            ],
            options={
                'indexes': [models.Index(fields=['family', '-number'], name='placements_of_family'), models.Index(condition=models.Q(('arrival__isnull', False)), fields=['arrival'], name='placements_of_arrival')],
            },
        ),
        migrations.CreateModel(
            name='Member',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('role', models.TextField()),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('team', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='members', to='record.team')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('team', 'user'), name='one_role_in_a_team'), models.CheckConstraint(condition=models.Q(('role__in', ['reader', 'consultant', 'lead'])), name='team_role_is_known')],
            },
        ),
    ]
