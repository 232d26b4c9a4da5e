"""Say the basis of the next visit's day in better words."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('drift', '0004_lighter_forecasts'),
    ]

    operations = [
        migrations.AlterField(
            model_name='buildingoutlook',
            name='basis',
            field=models.CharField(choices=[('visit', 'planned visit'), ('due', 'next sensitivity test due'), ('year', 'a year ahead: nothing is planned or due before')], max_length=5),
        ),
    ]
