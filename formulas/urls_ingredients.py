"""Addresses of ingredients, suppliers and the catalogue."""

from django.urls import path

from formulas.views import (
    catalogue,
    composition_sheet,
    compositions,
    ingredients,
    papers,
    substances,
    suppliers,
)

ONE = "ingredients/<str:code>/"

patterns = [
    path("ingredients/", ingredients.ingredient_list, name="ingredients"),
    path("ingredients/add/", ingredients.ingredient_add, name="ingredient-add"),
    path("ingredients/catalogue/", catalogue.catalogue_page, name="catalogue"),
    path("ingredients/catalogue/<slug:key>/", catalogue.material_page, name="catalogue-material"),
    path("ingredients/substances/", substances.substance_search, name="substances"),
    path("ingredients/substances/add/", compositions.substance_add, name="substance-add"),
    path("ingredients/substances/<slug:substance>/", substances.substance, name="substance"),
    path(ONE, ingredients.ingredient, name="ingredient"),
    path(ONE + "change/", ingredients.ingredient_change, name="ingredient-change"),
    path(ONE + "confirm/<slug:field>/", ingredients.confirm, name="confirm"),
    path(ONE + "papers/", papers.papers_of_ingredient, name="ingredient-papers"),
    path(ONE + "papers/<uuid:uuid>/date/", papers.paper_date, name="ingredient-paper-date"),
    path(ONE + "papers/add/", papers.paper_add, name="ingredient-paper-add"),
    path(ONE + "sources/add/", suppliers.source_add, name="source-add"),
    path(ONE + "sources/<uuid:uuid>/prefer/", suppliers.source_prefer, name="source-prefer"),
    path(ONE + "use-levels/add/", suppliers.use_level_add, name="use-level-add"),
    path(ONE + "use-levels/<uuid:uuid>/confirm/", suppliers.use_level_confirm, name="use-level-confirm"),
    path(ONE + "use-levels/<uuid:uuid>/remove/", suppliers.use_level_remove, name="use-level-remove"),
    path(ONE + "compositions/add/", compositions.composition_add, name="composition-add"),
    path(ONE + "compositions/read/", composition_sheet.composition_sheet, name="composition-sheet"),
    path(
        ONE + "compositions/<int:number>/confirm/",
        compositions.composition_confirm,
        name="composition-confirm",
    ),
    path("suppliers/", suppliers.supplier_list, name="suppliers"),
    path("suppliers/add/", suppliers.supplier_add, name="supplier-add"),
    path("suppliers/<uuid:uuid>/", suppliers.supplier, name="supplier"),
    path("suppliers/<uuid:uuid>/papers/", papers.papers_of_supplier, name="supplier-papers"),
]
