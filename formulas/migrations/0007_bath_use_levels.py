# Use levels of bath goods, of which more is usual than elsewhere.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('formulas', '0006_a_product_sold_nowhere_yet'),
    ]

    operations = [
        migrations.AlterField(
            model_name='uselevel',
            name='kind',
            field=models.CharField(choices=[('any', 'Any product'), ('leave-on', 'Leave-on'), ('rinse-off', 'Rinse-off'), ('bath', 'Bath goods')], default='any', max_length=12),
        ),
    ]
