"""Addresses of packs, places, recipients, dispatches and returns."""

from django.urls import path

from batches.views import returns, selling, selling_lists

patterns = [
    path("packs/", selling_lists.pack_list, name="packs"),
    path("packs/<str:code>/", selling.pack, name="pack"),
    path("packs/<str:code>/hold/", selling.pack_act("hold"), name="pack-hold"),
    path("packs/<str:code>/keep/", selling.pack_act("keep"), name="pack-keep"),
    path("packs/<str:code>/destroy/", selling.pack_act("destroy"), name="pack-destroy"),
    path("packs/<str:code>/move/", selling.pack_act("move"), name="pack-move"),
    path("packs/<str:code>/count/", selling.pack_act("count"), name="pack-count"),
    path("batches/<str:code>/pack/", selling.pack_add, name="pack-add"),
    path("places/", selling_lists.place_list, name="places"),
    path("places/add/", selling.place_add, name="place-add"),
    path("places/<str:code>/", selling.place, name="place"),
    path("places/<str:code>/return/<str:pack_code>/", returns.return_from_place, name="return-from-place"),
    path("recipients/", selling_lists.recipient_list, name="recipients"),
    path("recipients/add/", selling.recipient_add, name="recipient-add"),
    path("recipients/<str:code>/", selling.recipient, name="recipient"),
    path("recipients/<str:code>/contact/", selling.recipient_contact, name="recipient-contact"),
    path("recipients/<str:code>/erase/", selling.recipient_erase, name="recipient-erase"),
    path("dispatches/", selling_lists.dispatch_list, name="dispatches"),
    path("dispatches/add/", selling.dispatch_add, name="dispatch-add"),
    path("dispatches/<str:code>/", selling.dispatch_page, name="dispatch"),
    path(
        "dispatches/<str:code>/return/<str:pack_code>/",
        returns.return_from_dispatch,
        name="return-from-dispatch",
    ),
    path("returns/<str:code>/", returns.return_page, name="return"),
]
