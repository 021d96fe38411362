# The day that a kept paper bears.

import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('formulas', '0004_formula_desk'),
        ('makers', '0001_start'),
    ]

    operations = [
        migrations.CreateModel(
            name='DatedPaper',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('uuid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('issued_on', models.DateField()),
                ('document', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='makers.document')),
                ('maker', models.ForeignKey(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='makers.maker')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
    ]
