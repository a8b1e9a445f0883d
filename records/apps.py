from django.apps import AppConfig


class RecordsConfig(AppConfig):
    name = "records"
    verbose_name = "Records: what was done, measured and signed"
    default_auto_field = "django.db.models.BigAutoField"
