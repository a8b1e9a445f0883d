from django.urls import URLPattern, URLResolver, path

from records.api import bundle_views as phone
from records.api import phone_views as session
from records.api import record_views as records
from records.api import run_views as runs
from records.api import signing_views as signing
from records.api import trend_views as trends

urlpatterns: list[URLPattern | URLResolver] = [
    path("runs/", runs.RunListView.as_view()),
    path("runs/<int:run_id>/", runs.RunView.as_view()),
    path("runs/<int:run_id>/answers/", runs.AnswerView.as_view()),
    path("runs/<int:run_id>/equipment/", runs.EquipmentView.as_view()),
    path("runs/<int:run_id>/lots/", runs.LotView.as_view()),
    path("runs/<int:run_id>/photos/", runs.PhotoListView.as_view()),
    path("runs/<int:run_id>/photos/<int:photo_id>/", runs.PhotoView.as_view()),
    path("runs/<int:run_id>/pause/", runs.PauseView.as_view()),
    path("runs/<int:run_id>/resume/", runs.ResumeView.as_view()),
    path("runs/<int:run_id>/hand-over/", runs.HandOverView.as_view()),
    path("runs/<int:run_id>/abandon/", runs.AbandonView.as_view()),
    path("runs/<int:run_id>/finish/", runs.FinishView.as_view()),
    path("runs/<int:run_id>/content/", runs.ContentView.as_view()),
    path("runs/<int:run_id>/sign/", signing.SignView.as_view()),
    path("records/", records.RecordListView.as_view()),
    path("records/<str:number>/", records.RecordView.as_view()),
    path("records/<str:number>/canonical/", records.CanonicalView.as_view()),
    path("records/<str:number>/pdf/", records.RecordPaperView.as_view()),
    path("records/<str:number>/verification/", records.RecordCheckView.as_view()),
    path("records/<str:number>/amendment-content/", records.AmendmentContentView.as_view()),
    path("records/<str:number>/amendments/", records.AmendmentView.as_view()),
    path("verification/", records.VerificationView.as_view()),
    path("trends/", trends.TrendListView.as_view()),
    path("trends/<str:registration>/<slug:procedure>/<str:point>/", trends.TrendView.as_view()),
    path("trends/<str:registration>/<slug:procedure>/<str:point>/pdf/", trends.TrendPaperView.as_view()),
    path("aircraft/<str:registration>/status-items/", records.StatusItemsView.as_view()),
    path("aircraft/<str:registration>/status-items/pdf/", records.StatusPaperView.as_view()),
    path("aircraft/<str:registration>/export/", records.ExportView.as_view()),
    path("work-bundle/", phone.WorkBundleView.as_view()),
    path("sync/", phone.SyncView.as_view()),
    path("phone/session/", session.SessionView.as_view()),
    path("phone/sign-in/", session.SignInView.as_view()),
    path("phone/sign-out/", session.SignOutView.as_view()),
    path("phone/components/<int:component_id>/", session.LabelledComponentView.as_view()),
]
