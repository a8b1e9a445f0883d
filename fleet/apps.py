from django.apps import AppConfig


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = "Fleet: what flies and who may touch it"
    default_auto_field = "django.db.models.BigAutoField"
