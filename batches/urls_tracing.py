"""Addresses of the trace, complaints and recalls."""

from django.urls import path

from batches.views import tracing, tracing_lists

patterns = [
    path("trace/", tracing.trace_page, name="trace"),
    path("complaints/", tracing_lists.complaint_list, name="complaints"),
    path("complaints/add/", tracing.complaint_add, name="complaint-add"),
    path("complaints/<str:code>/", tracing.complaint, name="complaint"),
    path("recalls/", tracing_lists.recall_list, name="recalls"),
    path("recalls/start/", tracing.recall_start, name="recall-start"),
    path("recalls/<str:code>/", tracing.recall, name="recall"),
]
