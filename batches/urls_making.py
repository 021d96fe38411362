"""Addresses of batches and the bench."""

from django.urls import path

from batches.views import bench, making, making_acts, trials

patterns = [
    path("batches/", making.batch_list, name="batches"),
    path("batches/plan/", making.plan, name="plan"),
    path("batches/<str:code>/", making.batch_page, name="batch"),
    path("batches/<str:code>/bench/", bench.bench, name="bench"),
    path("batches/<str:code>/bench/pot/", bench.pot, name="bench-pot"),
    path("batches/<str:code>/weighings/<uuid:uuid>/back/", making_acts.weighing_back, name="weighing-back"),
    path("batches/<str:code>/outputs/<uuid:uuid>/back/", making_acts.output_back, name="output-back"),
    path("batches/<str:code>/deviations/<uuid:uuid>/", making_acts.deviation_judge, name="deviation"),
    path("batches/<str:code>/trial/<uuid:uuid>/", trials.trial_correct, name="trial-correct"),
    path("batches/<str:code>/do/<slug:act>/", making_acts.batch_act, name="batch-act"),
]
