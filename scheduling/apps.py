from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    verbose_name = "Scheduling: what must be done, why and when"
    default_auto_field = "django.db.models.BigAutoField"
