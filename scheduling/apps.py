from django.apps import AppConfig


class SchedulingConfig(AppConfig):
    name = "scheduling"
    verbose_name = "Scheduling: what must be done, why and when"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Keep what is due in step with the counters."""
        from fleet.services.following import follow_counters
        from scheduling.services.flights import keep_in_step

        follow_counters(keep_in_step)
