"""Addresses of ingredients, suppliers and the catalogue."""

from django.urls import path

from formulas.views import ingredients

patterns = [
    path("ingredients/", ingredients.ingredient_list, name="ingredients"),
    path("ingredients/add/", ingredients.ingredient_add, name="ingredient-add"),
    path("ingredients/catalogue/", ingredients.catalogue_page, name="catalogue"),
    path("ingredients/substances/add/", ingredients.substance_add, name="substance-add"),
    path("ingredients/<str:code>/", ingredients.ingredient, name="ingredient"),
    path("ingredients/<str:code>/change/", ingredients.ingredient_change, name="ingredient-change"),
    path("ingredients/<str:code>/confirm/<slug:field>/", ingredients.confirm, name="confirm"),
    path("ingredients/<str:code>/sources/add/", ingredients.source_add, name="source-add"),
    path("ingredients/<str:code>/sources/<uuid:uuid>/prefer/", ingredients.source_prefer, name="source-prefer"),
    path("ingredients/<str:code>/prices/add/", ingredients.price_add, name="price-add"),
    path("ingredients/<str:code>/use-levels/add/", ingredients.use_level_add, name="use-level-add"),
    path("ingredients/<str:code>/compositions/add/", ingredients.composition_add, name="composition-add"),
    path("suppliers/", ingredients.supplier_list, name="suppliers"),
    path("suppliers/add/", ingredients.supplier_add, name="supplier-add"),
    path("suppliers/<uuid:uuid>/", ingredients.supplier, name="supplier"),
]
