"""The buttons of a run: pause, go on, hand over, give up, finish; and its photographs."""

from __future__ import annotations

from django.http import FileResponse, HttpRequest
from django.views.generic import View

from fleet.common.errors import Invalid
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, ScreenMixin
from fleet.selectors.people import people
from records.screens.run_page import next_place, run_address
from records.selectors.run_sheet import run_sheet
from records.selectors.runs import photo_for, run_for
from records.services.finishing import finish_run
from records.services.provisions import hand_over
from records.services.runs import abandon_run, pause_run, resume_run


class RunPause(CommandScreen):
    """Put the run aside."""

    done = "The run is put aside. Nothing is lost; the aircraft stays not releasable."

    def act(self, run_id: int) -> str:
        """Pause it."""
        pause_run(actor=self.actor, run_id=run_id)
        return run_address(run_id)


class RunResume(CommandScreen):
    """Go on with the run."""

    def act(self, run_id: int) -> str:
        """Resume it, at the step that comes now."""
        resume_run(actor=self.actor, run_id=run_id)
        return next_place(run_sheet(self.actor, run_id))


class RunHandOver(CommandScreen):
    """Pass the run on, or take it over."""

    done = "The run changed hands."

    def act(self, run_id: int) -> str:
        """Hand over to the colleague named; pressed twice it changes nothing more."""
        run, to = run_for(self.actor, run_id), plain_number(self.request.POST.get("to", ""))
        person = people(self.actor).filter(pk=to).first() if to is not None else None
        if person is None:
            raise Invalid("bad_provision", "Choose who takes the run over.")
        if run.performer_id != person.pk:
            words = self.request.POST.get("note", "")
            hand_over(actor=self.actor, run_id=run_id, to_user_id=person.pk, note_words=words)
        return run_address(run_id)


class RunAbandon(CommandScreen):
    """Give the run up with a reason."""

    done = "The run is given up. What was entered stays readable, and the task stands open again."

    def act(self, run_id: int) -> str:
        """Abandon it."""
        abandon_run(actor=self.actor, run_id=run_id, reason=self.request.POST.get("reason", ""))
        return run_address(run_id)


class RunFinish(CommandScreen):
    """Close the run for entries and hear the verdict."""

    def act(self, run_id: int) -> str:
        """Finish it."""
        finish_run(actor=self.actor, run_id=run_id)
        return run_address(run_id)


class RunPhoto(ScreenMixin, View):
    """One photograph of a run."""

    def get(self, request: HttpRequest, run_id: int, photo_id: int) -> FileResponse:
        """The picture itself, never to be guessed to be something else."""
        photo = photo_for(self.actor, run_id, photo_id)
        return FileResponse(photo.file.open("rb"), content_type=photo.media_type)
