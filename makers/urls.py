"""Every address: the house's own doors first, then everything below a maker."""

from django.urls import include, path

from makers.views import doors, house, records, typed

house_urls = (
    [
        path("", house.today, name="today"),
        path("search/", house.search, name="search"),
        path("typed/", typed.typed, name="typed"),
        path("journal/", house.journal, name="journal"),
        path("papers/<uuid:uuid>/", house.document, name="document"),
        path("papers/<uuid:uuid>/small.jpg", house.picture, name="picture"),
        path("settings/", house.settings, name="settings"),
        path("settings/scales/add/", house.scale_add, name="scale-add"),
        path("settings/scales/<uuid:uuid>/check/", house.scale_check, name="scale-check"),
        path("settings/members/add/", house.member_add, name="member-add"),
        path("settings/members/<uuid:uuid>/", house.member_change, name="member-change"),
        path("settings/responsible/", house.responsible, name="responsible"),
        path("export/", records.export, name="export"),
        path("export/records.zip", records.export_zip, name="export-zip"),
        path("export/check/", records.check, name="check"),
    ],
    "house",
)

below_maker = [
    path("", include(house_urls)),
    path("", include("formulas.urls")),
    path("", include("batches.urls")),
    path("", include("labels.urls")),
]

urlpatterns = [
    path("", doors.home, name="home"),
    path("health/", doors.health, name="health"),
    path("sign-in/", doors.SignIn.as_view(), name="sign-in"),
    path("sign-out/", doors.SignOut.as_view(), name="sign-out"),
    path("setup/", doors.setup, name="setup"),
    path("account/", doors.account, name="account"),
    path("<slug:maker>/", include(below_maker)),
]
