"""Addresses of the records screens."""

from django.urls import URLPattern, URLResolver, path

from records.screens import aircraft, papers, run_commands, run_page, runs, sealed, signing, tasks, trends

app_name = "records"

urlpatterns: list[URLPattern | URLResolver] = [
    path("aircraft/", aircraft.AircraftList.as_view(), name="aircraft-list"),
    path("aircraft/<str:registration>/", aircraft.AircraftPage.as_view(), name="aircraft"),
    path("aircraft/<str:registration>/status.pdf", papers.StatusPaper.as_view(), name="aircraft-status-pdf"),
    path("aircraft/<str:registration>/label.pdf", papers.AircraftLabel.as_view(), name="aircraft-label"),
    path("aircraft/<str:registration>/export/", papers.AircraftExport.as_view(), name="aircraft-export"),
    path("tasks/<int:task_id>/", tasks.TaskPage.as_view(), name="task"),
    path("tasks/<int:task_id>/start/", tasks.TaskStart.as_view(), name="task-start"),
    path("tasks/<int:task_id>/assign/", tasks.TaskAssign.as_view(), name="task-assign"),
    path("tasks/<int:task_id>/withdraw/", tasks.TaskWithdraw.as_view(), name="task-withdraw"),
    path("runs/<int:run_id>/", run_page.RunPage.as_view(), name="run"),
    path("runs/<int:run_id>/at-hand/", runs.RunAtHand.as_view(), name="run-at-hand"),
    path("runs/<int:run_id>/steps/<str:step>/", runs.RunAnswer.as_view(), name="run-answer"),
    path("runs/<int:run_id>/steps/<str:step>/timer/", runs.RunPress.as_view(), name="run-press"),
    path("runs/<int:run_id>/pause/", run_commands.RunPause.as_view(), name="run-pause"),
    path("runs/<int:run_id>/resume/", run_commands.RunResume.as_view(), name="run-resume"),
    path("runs/<int:run_id>/hand-over/", run_commands.RunHandOver.as_view(), name="run-hand-over"),
    path("runs/<int:run_id>/abandon/", run_commands.RunAbandon.as_view(), name="run-abandon"),
    path("runs/<int:run_id>/finish/", run_commands.RunFinish.as_view(), name="run-finish"),
    path("runs/<int:run_id>/sign/", signing.SignPage.as_view(), name="sign"),
    path("runs/<int:run_id>/photos/<int:photo_id>/", run_commands.RunPhoto.as_view(), name="run-photo"),
    path("records/", sealed.RecordList.as_view(), name="records"),
    path("records/<str:number>.pdf", papers.RecordPaper.as_view(), name="record-pdf"),
    path("records/<str:number>/", sealed.RecordPage.as_view(), name="record"),
    path("records/<str:number>/text/", sealed.RecordText.as_view(), name="record-text"),
    path("records/<str:number>/amend/", sealed.AmendPage.as_view(), name="amend"),
    path("trends/", trends.TrendList.as_view(), name="trends"),
    path("trends/<str:registration>/<str:procedure>/<str:point>/", trends.TrendPage.as_view(), name="trend"),
    path(
        "trends/<str:registration>/<str:procedure>/<str:point>/paper.pdf",
        papers.TrendPaper.as_view(),
        name="trend-pdf",
    ),
    path("verify/<str:digest>/", sealed.VerifyPage.as_view(), name="verify"),
]
