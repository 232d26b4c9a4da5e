"""A forecast keeps its building as a plain key: a million rows are written in one night.

Forecasts are made anew each night from readings, so the old rows go with their table.
"""

import django.db.models.deletion
from django.db import migrations, models

import contractor.tenancy.constraints
import contractor.tenancy.keys


class Migration(migrations.Migration):
    dependencies = [
        ("drift", "0003_said_asked_kept"),
    ]

    operations = [
        migrations.DeleteModel(name="Forecast"),
        migrations.CreateModel(
            name="Forecast",
            fields=[
                ('id', models.UUIDField(default=contractor.tenancy.keys.uuid7, editable=False, primary_key=True, serialize=False)),
                ('building_id', models.UUIDField()),
                ('as_of', models.DateField()),
                ('readings', models.PositiveSmallIntegerField()),
                ('rate', models.FloatField()),
                ('rate_sd', models.FloatField()),
                ('p10_on', models.DateField(null=True)),
                ('p50_on', models.DateField(null=True)),
                ('p90_on', models.DateField(null=True)),
                ('next_on', models.DateField()),
                ('chance', models.FloatField()),
                ('device', models.ForeignKey(db_constraint=False, db_index=False, on_delete=django.db.models.deletion.CASCADE, to='register.device')),
                ('firm', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='tenancy.firm')),
            ],
            options={
                'abstract': False,
                'base_manager_name': 'objects',
                'indexes': [models.Index(fields=['firm', '-chance'], name='forecast_worst_first'), models.Index(fields=['firm', 'building_id', '-chance'], name='forecast_by_building')],
                'constraints': [contractor.tenancy.constraints.SameFirm('device', name='drift_forecast_device_firm'), models.UniqueConstraint(fields=('firm', 'device'), name='one_forecast_per_detector')],
            },
        ),
    ]
