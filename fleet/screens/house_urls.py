"""Addresses of people, stock, components, one's own account and the trail."""

from django.urls import path

from fleet.screens import components, people, stock

urlpatterns = [
    path("components/", components.ComponentsScreen.as_view(), name="components"),
    path("components/labels.pdf", components.ComponentLabelsScreen.as_view(), name="component-labels"),
    path("components/<int:component>/", components.ComponentScreen.as_view(), name="component"),
    path("aircraft-labels.pdf", components.AircraftLabelsScreen.as_view(), name="aircraft-labels"),
    path("people/", people.PeopleScreen.as_view(), name="people"),
    path("people/new/", people.NewPersonScreen.as_view(), name="new-person"),
    path("people/<int:person>/", people.PersonScreen.as_view(), name="person"),
    path("people/<int:person>/roles/", people.RolesScreen.as_view(), name="roles"),
    path("people/<int:person>/certificates/new/", people.CertificateScreen.as_view(), name="new-certificate"),
    path("people/<int:person>/authorise/", people.GrantScreen.as_view(), name="authorise"),
    path("people/<int:person>/password/", people.ResetPasswordScreen.as_view(), name="reset-password"),
    path(
        "people/<int:person>/account/<slug:state>/", people.AccountStateScreen.as_view(), name="account-state"
    ),
    path("authorisations/<int:authorisation>/revoke/", people.RevokeScreen.as_view(), name="revoke"),
    path("account/", people.AccountScreen.as_view(), name="account"),
    path("account/password/", people.PasswordScreen.as_view(), name="password"),
    path("account/keys/<int:key>/revoke/", people.RevokeKeyScreen.as_view(), name="revoke-key"),
    path("trail/", people.TrailScreen.as_view(), name="trail"),
    path("stock/", stock.StockScreen.as_view(), name="stock"),
    path("stock/lots/new/", stock.NewLotScreen.as_view(), name="new-lot"),
    path("stock/lots/<int:lot>/", stock.LotScreen.as_view(), name="lot"),
    path("stock/equipment/new/", stock.NewEquipmentScreen.as_view(), name="new-equipment"),
    path("stock/equipment/<int:equipment>/", stock.EquipmentScreen.as_view(), name="equipment"),
    path(
        "stock/equipment/<int:equipment>/withdraw/",
        stock.WithdrawEquipmentScreen.as_view(),
        name="withdraw-equipment",
    ),
]
