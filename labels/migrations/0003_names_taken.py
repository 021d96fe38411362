# What a constraint says of a name that is taken, and the field it stands beside; no table changes.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('formulas', '0008_names_taken'),
        ('labels', '0002_product_groups'),
        ('makers', '0002_names_taken'),
    ]

    operations = [
        migrations.AlterConstraint(
            model_name='label',
            name='label_once',
            constraint=models.UniqueConstraint(fields=('product', 'market', 'language'), name='label_once', violation_error_code='market_taken', violation_error_message='That product has a label for this market and language. Open that one, or choose others.'),
        ),
        migrations.AlterConstraint(
            model_name='sheetlayout',
            name='sheet_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='sheet_name_once', violation_error_code='name_taken', violation_error_message='There is a sheet of that name already. Give this one another name, or use that one.'),
        ),
    ]
