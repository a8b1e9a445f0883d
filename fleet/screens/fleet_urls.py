"""Addresses of signing in, flights, meters, flight files, bases, types, the register and life limits."""

from django.urls import path

from fleet.screens import flight_files, flights, house, parts, sign_in

urlpatterns = [
    path("sign-in/", sign_in.SignInScreen.as_view(), name="sign-in"),
    path("sign-out/", sign_in.SignOutScreen.as_view(), name="sign-out"),
    path("flights/", flights.FlightsScreen.as_view(), name="flights"),
    path("flights/new/", flights.PostFlightScreen.as_view(), name="post-flight"),
    path("flights/<int:flight>/void/", flights.VoidFlightScreen.as_view(), name="void-flight"),
    path("flights/files/", flight_files.ImportsScreen.as_view(), name="flight-imports"),
    path("flights/files/<int:upload>/", flight_files.FlightFileScreen.as_view(), name="flight-file"),
    path(
        "flights/files/<int:upload>/columns/",
        flight_files.FlightFileColumnsScreen.as_view(),
        name="flight-file-columns",
    ),
    path(
        "flights/files/<int:upload>/import/",
        flight_files.FlightFileImportScreen.as_view(),
        name="import-flight-file",
    ),
    path(
        "flights/files/<int:upload>/forget/",
        flight_files.FlightFileForgetScreen.as_view(),
        name="forget-flight-file",
    ),
    path(
        "flights/files/<int:upload>/progress/",
        flight_files.FlightFileProgressScreen.as_view(),
        name="flight-file-progress",
    ),
    path("aircraft/<str:registration>/meters/", flights.MetersScreen.as_view(), name="meters"),
    path("meters/<int:meter>/", flights.ReadingScreen.as_view(), name="reading"),
    path("house/", house.HouseScreen.as_view(), name="house"),
    path("house/bases/new/", house.NewBaseScreen.as_view(), name="new-base"),
    path("house/bases/<slug:code>/", house.BaseScreen.as_view(), name="base"),
    path("house/kinds/new/", house.NewKindScreen.as_view(), name="new-kind"),
    path("house/types/new/", house.NewTypeScreen.as_view(), name="new-type"),
    path("house/types/<slug:code>/", house.TypeScreen.as_view(), name="type"),
    path("house/types/<slug:code>/options/", house.NewOptionScreen.as_view(), name="new-option"),
    path("house/types/<slug:code>/positions/new/", house.NewPositionScreen.as_view(), name="new-position"),
    path(
        "house/types/<slug:code>/positions/<slug:position>/", house.PositionScreen.as_view(), name="position"
    ),
    path("house/aircraft/new/", house.RegisterScreen.as_view(), name="register"),
    path("house/aircraft/<str:registration>/", house.ChangeAircraftScreen.as_view(), name="change-aircraft"),
    path("components/life-limits/", parts.LifeLimitsScreen.as_view(), name="life-limits"),
    path(
        "components/life-limits/<int:limit>/drop/",
        parts.DropLifeLimitScreen.as_view(),
        name="drop-life-limit",
    ),
    path("components/<int:component>/scrap/", parts.ScrapScreen.as_view(), name="scrap-component"),
    path(
        "installations/<int:installation>/disposition/", parts.DispositionScreen.as_view(), name="disposition"
    ),
    path("stock/uplifts/new/", parts.UpliftScreen.as_view(), name="new-uplift"),
]
