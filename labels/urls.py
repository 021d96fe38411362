"""Addresses of the labels world, below a maker."""

from django.urls import URLPattern, URLResolver

app_name = "labels"
urlpatterns: list[URLPattern | URLResolver] = []
