"""Forecasts are made anew each night from readings, so the old rows go with their table."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("drift", "0001_initial"), ("register", "0002_component_circuit_unsafe_place")]

    operations = [migrations.DeleteModel(name="Forecast")]
