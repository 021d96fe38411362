# What a constraint says of a name that is taken, and the field it stands beside; no table changes.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('makers', '0001_start'),
    ]

    operations = [
        migrations.AlterConstraint(
            model_name='membership',
            name='membership_once',
            constraint=models.UniqueConstraint(fields=('maker', 'user'), name='membership_once', violation_error_message='That person is a member already. Change the role in the list.'),
        ),
        migrations.AlterConstraint(
            model_name='responsibleparty',
            name='responsible_once',
            constraint=models.UniqueConstraint(fields=('maker', 'market'), name='responsible_once', violation_error_code='market_taken', violation_error_message='Somebody answers for that market already. Change that entry.'),
        ),
        migrations.AlterConstraint(
            model_name='scale',
            name='scale_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='scale_name_once', violation_error_code='name_taken', violation_error_message='There is a scale of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='scale',
            name='scale_bounds',
            constraint=models.CheckConstraint(condition=models.Q(('capacity_g__lte', 10000000), ('repeatability_g__gte', 0)), name='scale_bounds', violation_error_message='A scale carries 10 000 kg at most, and repeats within 0 g or more.'),
        ),
    ]
