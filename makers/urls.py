"""Every address: the house's own doors first, then everything below a maker."""

from django.urls import include, path

from makers.views import doors

house = (
    [
        path("", doors.today, name="today"),
    ],
    "house",
)

below_maker = [
    path("", include(house)),
    path("", include("formulas.urls")),
    path("", include("batches.urls")),
    path("", include("labels.urls")),
]

urlpatterns = [
    path("", doors.home, name="home"),
    path("health/", doors.health, name="health"),
    path("sign-in/", doors.home, name="sign-in"),
    path("sign-out/", doors.home, name="sign-out"),
    path("<slug:maker>/", include(below_maker)),
]
