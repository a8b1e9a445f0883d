"""Flight files: bring one, see what it holds and what is wrong, choose, import; what was imported before."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.paginator import Paginator
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.wording import day
from fleet.flight_file.columns import FIELDS
from fleet.jobs import import_flight_files
from fleet.models import FlightUpload
from fleet.screens.base import CommandScreen, FormScreen, Screen
from fleet.screens.flight_forms import ColumnsForm, UploadForm
from fleet.selectors.flight_files import flight_upload_for, import_batches, open_uploads
from fleet.services.flight_uploads import (
    ask_for_import,
    carry_out_upload,
    forget_upload,
    keep_upload,
    read_upload_again,
)

# A file of this many rows is imported while the page waits; a longer one in the background.
ROWS_AT_ONCE = 20_000
ERRORS_SHOWN = 100
WAITING_SHOWN = 20


class ImportsScreen(FormScreen):
    """Bring a file; the files that came before."""

    template_name = "fleet/flight_imports.html"
    form_class = UploadForm

    def page(self) -> dict[str, Any]:
        """Files not imported yet, or that broke off, and imported ones; newest first."""
        rows = Paginator(import_batches(self.actor), 20).get_page(self.request.GET.get("page"))
        waiting = open_uploads(self.actor)[:WAITING_SHOWN]
        return {"page": rows, "waiting": waiting, "may_post": self.actor.may(Verb.POST_FLIGHT)}

    def act(self, data: dict[str, Any]) -> str:
        """Keep it and look it through."""
        upload = keep_upload(actor=self.actor, filename=data["file"].name, content=data["file"])
        return reverse("fleet:flight-file", args=[upload.pk])


class FlightFileScreen(Screen):
    """One file: how its columns are read, what would come in, what is wrong."""

    template_name = "fleet/flight_file.html"

    def page(self, upload: int) -> dict[str, Any]:
        """What the last look, or the import, found."""
        row = flight_upload_for(self.actor, upload)
        report = row.report
        state = FlightUpload.State
        return {
            "upload": row,
            "report": report,
            "errors": report.get("errors", [])[:ERRORS_SHOWN],
            "columns_form": ColumnsForm(heading=report["heading"], initial=report["columns"]),
            "may_post": self.actor.may(Verb.POST_FLIGHT),
            "is_open": row.state in (state.CHECKED, state.REFUSED, state.FAILED),
            "has_failed": row.state == state.FAILED,
            "is_running": row.state in (state.ASKED, state.WORKING),
            "is_done": row.state == state.DONE,
            "facts": _facts(report) if "rows" in report else [],
        }


def _facts(report: dict[str, Any]) -> list[tuple[str, object]]:
    days = [day(date.fromisoformat(text)) for text in (report["first_day"], report["last_day"]) if text]
    return [
        ("Rows", report["rows"]),
        ("New flights", report["new"]),
        ("Known already", report["repeated"]),
        ("Cannot be imported", report["bad"]),
        ("Aircraft", report["aircraft"]),
        ("Days", " to ".join(dict.fromkeys(days)) or "none"),
    ]


class FlightFileColumnsScreen(CommandScreen):
    """Look the file through with other columns."""

    def act(self, upload: int) -> str:
        """Read it again."""
        chosen = {name: self.request.POST.get(name, "") for name in (*FIELDS, "zone", "numbers")}
        read_upload_again(actor=self.actor, upload_id=upload, columns=chosen)
        return reverse("fleet:flight-file", args=[upload])


class FlightFileImportScreen(CommandScreen):
    """Import the file as it was looked through."""

    def act(self, upload: int) -> str:
        """Ask for it; a short file comes in at once."""
        leave_out = self.request.POST.get("leave_out_bad_rows") == "yes"
        row = ask_for_import(actor=self.actor, upload_id=upload, leave_out_bad_rows=leave_out)
        if row.report["rows"] <= ROWS_AT_ONCE:
            carry_out_upload(upload_id=upload)
        else:
            import_flight_files.delay_on_commit()
        return reverse("fleet:flight-file", args=[upload])


class FlightFileForgetScreen(CommandScreen):
    """Throw the file away."""

    done = "The file is thrown away. Nothing was imported from it."

    def act(self, upload: int) -> str:
        """Forget it."""
        if flight_upload_for(self.actor, upload).state == FlightUpload.State.DONE:
            self.done = "The file is thrown away. Its flights stay."
        forget_upload(actor=self.actor, upload_id=upload)
        return reverse("fleet:flight-imports")


class FlightFileProgressScreen(Screen):
    """The piece of page that says how the import stands."""

    template_name = "fleet/flight_file_progress.html"

    def page(self, upload: int) -> dict[str, Any]:
        """Working until it is not."""
        return {"upload": flight_upload_for(self.actor, upload)}
