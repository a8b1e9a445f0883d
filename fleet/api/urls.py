"""Addresses of the fleet room under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from fleet.api import (
    aircraft_views,
    component_views,
    flight_views,
    house_views,
    people_views,
    stock_views,
)

house = [
    path("bases/", house_views.BaseListView.as_view()),
    path("bases/<slug:code>/", house_views.BaseView.as_view()),
    path("aircraft-types/", house_views.TypeListView.as_view()),
    path("aircraft-types/<slug:code>/", house_views.TypeView.as_view()),
    path("aircraft-types/<slug:code>/options/", house_views.OptionListView.as_view()),
    path("aircraft-types/<slug:code>/positions/", house_views.PositionListView.as_view()),
    path("aircraft-types/<slug:code>/positions/<slug:position>/", house_views.PositionView.as_view()),
    path("component-kinds/", house_views.KindListView.as_view()),
    path("aircraft/", aircraft_views.AircraftListView.as_view()),
    path("aircraft/<str:registration>/", aircraft_views.AircraftView.as_view()),
    path("aircraft/<str:registration>/configuration/", aircraft_views.ConfigurationView.as_view()),
    path("aircraft/<str:registration>/installations/", aircraft_views.InstallationListView.as_view()),
]
components = [
    path("components/", component_views.ComponentListView.as_view()),
    path("components/<int:component_id>/", component_views.ComponentView.as_view()),
    path("components/<int:component_id>/times/", component_views.ComponentTimesView.as_view()),
    path("components/<int:component_id>/life/", component_views.ComponentLifeView.as_view()),
    path(
        "components/<int:component_id>/installations/", component_views.ComponentInstallationsView.as_view()
    ),
    path("components/<int:component_id>/overhauls/", component_views.OverhaulView.as_view()),
    path("components/<int:component_id>/scrap/", component_views.ScrapView.as_view()),
    path("installations/awaiting-disposition/", component_views.AwaitingDispositionView.as_view()),
    path("installations/<int:installation_id>/disposition/", component_views.DispositionView.as_view()),
    path("life-limits/", component_views.LifeLimitListView.as_view()),
    path("life-limits/<int:limit_id>/drop/", component_views.LifeLimitDropView.as_view()),
]
flights = [
    path("meters/", flight_views.MeterListView.as_view()),
    path("meters/<int:meter_id>/readings/", flight_views.ReadingListView.as_view()),
    path("meters/<int:meter_id>/corrections/", flight_views.CorrectionView.as_view()),
    path("flights/", flight_views.FlightListView.as_view()),
    path("flights/<int:flight_id>/", flight_views.FlightView.as_view()),
    path("flights/<int:flight_id>/void/", flight_views.FlightVoidView.as_view()),
    path("flight-imports/", flight_views.FlightImportListView.as_view()),
    path("flight-imports/<int:batch_id>/", flight_views.FlightImportView.as_view()),
]
stock = [
    path("fluid-lots/", stock_views.LotListView.as_view()),
    path("fluid-lots/<int:lot_id>/", stock_views.LotView.as_view()),
    path("fluid-lots/<int:lot_id>/approve/", stock_views.LotApproveView.as_view()),
    path("fluid-lots/<int:lot_id>/quarantine/", stock_views.LotQuarantineView.as_view()),
    path("fluid-lots/<int:lot_id>/use-up/", stock_views.LotUsedUpView.as_view()),
    path("fluid-lots/<int:lot_id>/trace/", stock_views.LotTraceView.as_view()),
    path("uplifts/", stock_views.UpliftListView.as_view()),
    path("equipment/", stock_views.EquipmentListView.as_view()),
    path("equipment/<int:equipment_id>/", stock_views.EquipmentView.as_view()),
    path("equipment/<int:equipment_id>/calibrations/", stock_views.CalibrationListView.as_view()),
    path("equipment/<int:equipment_id>/withdraw/", stock_views.EquipmentWithdrawView.as_view()),
]
people = [
    path("people/", people_views.PersonListView.as_view()),
    path("people/<int:person_id>/", people_views.PersonView.as_view()),
    path("people/<int:person_id>/roles/", people_views.RolesView.as_view()),
    path("people/<int:person_id>/password/", people_views.PasswordResetView.as_view()),
    path("people/<int:person_id>/certificates/", people_views.CertificateListView.as_view()),
    path("people/<int:person_id>/authorisations/", people_views.GrantView.as_view()),
    path("authorisations/", people_views.AuthorisationListView.as_view()),
    path("authorisations/<int:authorisation_id>/revoke/", people_views.RevokeView.as_view()),
    path("tokens/", people_views.ProgramKeyListView.as_view()),
    path("tokens/<int:token_id>/revoke/", people_views.ProgramKeyRevokeView.as_view()),
    path("trail/", people_views.TrailView.as_view()),
]
urlpatterns: list[URLPattern | URLResolver] = [*house, *components, *flights, *stock, *people]
