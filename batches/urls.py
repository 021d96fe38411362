"""Addresses of the batches world, below a maker."""

from django.urls import URLPattern, URLResolver

app_name = "batches"
urlpatterns: list[URLPattern | URLResolver] = []
