"""Addresses of the labels world, below a maker."""

from django.urls import URLPattern, URLResolver, include, path

from labels.views import acts, labels, printing

app_name = "labels"
label_urls = [
    path("", labels.label, name="label"),
    path("texts/", labels.texts, name="texts"),
    path("confirm/", acts.confirm, name="confirm"),
    path("cautions/judge/", acts.judge, name="judge"),
    path("names/<slug:substance>/", labels.name_substance_page, name="name"),
    path("approve/", acts.approve, name="approve"),
    path("withdraw/", acts.withdraw, name="withdraw"),
    path("proof.pdf", printing.proof, name="proof"),
    path("sheet.pdf", printing.sheet, name="sheet"),
    path("print-runs/add/", printing.run_add, name="run-add"),
]
urlpatterns: list[URLPattern | URLResolver] = [
    path("labels/", labels.label_list, name="labels"),
    path("labels/add/", labels.label_add, name="add"),
    path("labels/sheets/", printing.sheets, name="sheets"),
    path("labels/sheets/add/", printing.sheet_add, name="sheet-add"),
    path("labels/sheets/<uuid:uuid>/", printing.sheet_change, name="sheet-change"),
    path("labels/apply/<str:pack>/<uuid:issue>/", acts.apply, name="apply"),
    path("labels/<str:code>/<slug:key>/", include(label_urls)),
]
