"""Forecasts, outlooks, questions, notices, snapshots, and what a firm has chosen."""

import contractor.tenancy.constraints
import contractor.tenancy.keys
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('drift', '0002_forecasts_that_hold_still'),
        ('register', '0002_component_circuit_unsafe_place'),
        ('tenancy', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='BuildingOutlook',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('as_of', models.DateField()),
                ('next_on', models.DateField()),
                ('basis', models.CharField(choices=[('visit', 'planned visit'), ('due', 'next sensitivity test due'), ('year', 'a year ahead; nothing is planned or due')], max_length=5)),
                ('detectors', models.PositiveIntegerField()),
                ('expected', models.FloatField()),
                ('likely', models.PositiveIntegerField()),
                ('building', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.building')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'constraints': [contractor.tenancy.constraints.SameFirm('building', name='drift_buildingoutlook_building_firm'), models.UniqueConstraint(fields=('firm', 'building'), name='one_outlook_per_building')],
            },
        ),
        migrations.CreateModel(
            name='DriftNotice',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('kind', models.CharField(choices=[('nearing', 'nearing its limit'), ('chance', 'likely to reach its limit before the next visit')], max_length=8)),
                ('since_on', models.DateField()),
                ('is_news', models.BooleanField(default=True)),
                ('chance', models.FloatField()),
                ('ended_on', models.DateField(null=True)),
                ('building', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.building')),
                ('device', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.device')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'indexes': [models.Index(fields=['firm', 'since_on'], name='notice_by_day'), models.Index(fields=['firm', 'building'], name='notice_by_building')],
                'constraints': [contractor.tenancy.constraints.SameFirm('device', name='drift_driftnotice_device_firm'), contractor.tenancy.constraints.SameFirm('building', name='drift_driftnotice_building_firm'), models.UniqueConstraint(condition=models.Q(('ended_on', None)), fields=('firm', 'device', 'kind'), name='one_open_notice_of_a_kind')],
            },
        ),
        migrations.CreateModel(
            name='DriftPolicy',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('chance_threshold', models.FloatField(default=0.2)),
                ('accepted_share', models.FloatField(default=0.005)),
                ('minutes_a_cleaning', models.PositiveSmallIntegerField(default=15)),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'constraints': [models.UniqueConstraint(fields=('firm',), name='one_drift_policy_per_firm'), models.CheckConstraint(condition=models.Q(('chance_threshold__gt', 0), ('chance_threshold__lt', 1)), name='a_threshold_is_a_chance'), models.CheckConstraint(condition=models.Q(('accepted_share__gt', 0), ('accepted_share__lt', 1)), name='an_accepted_share_is_a_share')],
            },
        ),
        migrations.CreateModel(
            name='FleetConstants',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('values', models.JSONField()),
                ('fitted_on', models.DateField()),
                ('detectors', models.PositiveIntegerField()),
                ('readings', models.PositiveIntegerField()),
                ('is_swept', models.BooleanField(default=False)),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'constraints': [models.UniqueConstraint(fields=('firm',), name='one_set_of_constants_per_firm')],
            },
        ),
        migrations.CreateModel(
            name='Forecast',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('as_of', models.DateField()),
                ('readings', models.PositiveSmallIntegerField()),
                ('rate', models.FloatField()),
                ('rate_sd', models.FloatField()),
                ('p10_on', models.DateField(null=True)),
                ('p50_on', models.DateField(null=True)),
                ('p90_on', models.DateField(null=True)),
                ('next_on', models.DateField()),
                ('chance', models.FloatField()),
                ('building', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.building')),
                ('device', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.device')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'indexes': [models.Index(fields=['firm', '-chance'], name='forecast_worst_first'), models.Index(fields=['firm', 'building', '-chance'], name='forecast_by_building')],
                'constraints': [contractor.tenancy.constraints.SameFirm('device', name='drift_forecast_device_firm'), contractor.tenancy.constraints.SameFirm('building', name='drift_forecast_building_firm'), models.UniqueConstraint(fields=('firm', 'device'), name='one_forecast_per_detector')],
            },
        ),
        migrations.CreateModel(
            name='Question',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('kind', models.CharField(choices=[('cleaning', 'cleaned? nobody recorded it'), ('event', 'sudden rise')], max_length=8)),
                ('after_on', models.DateField()),
                ('by_on', models.DateField()),
                ('change', models.FloatField()),
                ('chance', models.FloatField()),
                ('asked_on', models.DateField()),
                ('answer', models.CharField(blank=True, choices=[('yes', 'yes'), ('no', 'no')], max_length=3)),
                ('happened_on', models.DateField(null=True)),
                ('note', models.CharField(blank=True, max_length=200)),
                ('answered_at', models.DateTimeField(null=True)),
                ('answered_by', models.ForeignKey(db_constraint=False, db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.member')),
                ('device', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.device')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'constraints': [models.UniqueConstraint(fields=('firm', 'id'), name='drift_question_firm'), contractor.tenancy.constraints.SameFirm('device', name='drift_question_device_firm'), contractor.tenancy.constraints.SameFirm('answered_by', name='drift_question_answered_by_firm'), models.UniqueConstraint(fields=('firm', 'device', 'kind', 'by_on'), name='one_question_per_gap')],
            },
        ),
        migrations.CreateModel(
            name='Snapshot',
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('said_on', models.DateField()),
                ('is_hindsight', models.BooleanField(default=False)),
                ('detectors', models.PositiveIntegerField()),
                ('body', models.BinaryField()),
                ('made_at', models.DateTimeField()),
                ('building', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.PROTECT, to='register.building')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'constraints': [contractor.tenancy.constraints.SameFirm('building', name='drift_snapshot_building_firm'), models.UniqueConstraint(fields=('firm', 'building', 'said_on', 'is_hindsight'), name='one_snapshot_per_building_and_day')],
            },
        ),
    ]
