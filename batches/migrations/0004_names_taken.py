# What a constraint says of a name that is taken, and the field it stands beside; no table changes.

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('batches', '0003_trial_notes'),
        ('makers', '0002_names_taken'),
    ]

    operations = [
        migrations.AlterConstraint(
            model_name='packbalance',
            name='packbalance_once',
            constraint=models.UniqueConstraint(fields=('pack', 'place'), name='packbalance_once', violation_error_message='That pack has a count at this place already. Load the page anew.'),
        ),
        migrations.AlterConstraint(
            model_name='place',
            name='place_name_once',
            constraint=models.UniqueConstraint(fields=('maker', 'name'), name='place_name_once', violation_error_code='name_taken', violation_error_message='There is a place of that name already. Give this one another name, or use that one.'),
        ),
        migrations.AlterConstraint(
            model_name='place',
            name='place_one_of_its_kind',
            constraint=models.UniqueConstraint(condition=models.Q(('kind__in', ['workshop', 'returns', 'kept'])), fields=('maker', 'kind'), name='place_one_of_its_kind', violation_error_message='A workshop has one place of that kind. Choose another kind.'),
        ),
    ]
