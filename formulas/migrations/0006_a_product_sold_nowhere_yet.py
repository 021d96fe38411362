# A product may be sold nowhere yet.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('formulas', '0005_dated_papers'),
    ]

    operations = [
        migrations.AlterField(
            model_name='product',
            name='markets',
            field=models.JSONField(blank=True, default=list),
        ),
    ]
