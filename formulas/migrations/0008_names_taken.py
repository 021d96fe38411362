# What a constraint says of a name that is taken, and the field it stands beside; no table changes.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('formulas', '0007_bath_use_levels'),
        ('makers', '0002_names_taken'),
    ]

    operations = [
        migrations.AlterConstraint(
            model_name='article',
            name='article_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='article_name_once', violation_error_code='name_taken', violation_error_message='There is an article of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='formula',
            name='formula_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='formula_name_once', violation_error_code='name_taken', violation_error_message='There is a formula of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='ingredient',
            name='ingredient_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='ingredient_name_once', violation_error_code='name_taken', violation_error_message='There is an ingredient of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='product',
            name='product_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='product_name_once', violation_error_code='name_taken', violation_error_message='There is a product of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='productpart',
            name='productpart_once',
            constraint=models.UniqueConstraint(fields=('product', 'article'), name='productpart_once', violation_error_code='article_taken', violation_error_message='Each pack takes that article already. Change how many it takes instead.'),
        ),
        migrations.AlterConstraint(
            model_name='source',
            name='source_once',
            constraint=models.UniqueConstraint(fields=('ingredient', 'supplier', 'article_code'), name='source_once', violation_error_code='article_code_taken', violation_error_message='That article of this supplier is already here. Use it, or write the code of another article.'),
        ),
        migrations.AlterConstraint(
            model_name='substancename',
            name='substancename_once',
            constraint=models.UniqueConstraint(fields=('maker', 'substance', 'market'), name='substancename_once', violation_error_message='That substance has a name for this market. Change that one.'),
        ),
        migrations.AlterConstraint(
            model_name='supplier',
            name='supplier_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='supplier_name_once', violation_error_code='name_taken', violation_error_message='There is a supplier of that name already. Give this one another name, or use that one.'),
        ),
    ]
