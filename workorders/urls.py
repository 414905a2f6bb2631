"""Every route of this app on one page."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from workorders.calendars import api as calendars
from workorders.clocks import api as clocks
from workorders.desk.pages import (
    base,
    desk,
    finding,
    findings,
    jobs,
    months,
    notices,
    recordings,
    seams,
    surveys,
)
from workorders.desk.pages import (
    inbox as inbox_pages,
)
from workorders.desk.pages import orders as order_pages
from workorders.feeds import api as feeds
from workorders.feeds.pages import calendar_file
from workorders.inbox import api as inbox
from workorders.orders import api as orders
from workorders.statements.api import months as statements
from workorders.verification import api as verification

urlpatterns: list[URLPattern | URLResolver] = [
    path("work-orders", orders.WorkOrders.as_view(), name="work-orders"),
    path("work-orders/<uuid:id>", orders.WorkOrder.as_view(), name="work-order"),
    path("work-orders/<uuid:id>/moves", orders.WorkOrderMoves.as_view(), name="work-order-moves"),
    path("work-orders/<uuid:id>/priority", orders.WorkOrderPriority.as_view(), name="work-order-priority"),
    path("work-orders/<uuid:id>/clocks", orders.WorkOrderClocks.as_view(), name="work-order-clocks"),
    path("pause-rules", orders.PauseRules.as_view(), name="pause-rules"),
    path("pause-rules/<uuid:id>", orders.PauseRule.as_view(), name="pause-rule"),
    path("service-levels", orders.ServiceLevels.as_view(), name="service-levels"),
    path("service-levels/<uuid:id>", orders.ServiceLevel.as_view(), name="service-level"),
    path("working-weeks", calendars.WorkingWeeks.as_view(), name="working-weeks"),
    path("working-weeks/<uuid:id>", calendars.WorkingWeek.as_view(), name="working-week"),
    path("working-weeks/<uuid:id>/void", calendars.WorkingWeekVoid.as_view(), name="working-week-void"),
    path("site-days", calendars.SiteDays.as_view(), name="site-days"),
    path("site-days/<uuid:id>", calendars.SiteDay.as_view(), name="site-day"),
    path("site-days/<uuid:id>/void", calendars.SiteDayVoid.as_view(), name="site-day-void"),
    path("sites/<uuid:id>/working-calendar", calendars.CalendarYear.as_view(), name="working-calendar"),
    path("months", statements.Months.as_view(), name="months"),
    path("sites/<uuid:id>/months", statements.SiteMonths.as_view(), name="site-months"),
    path("sites/<uuid:id>/months/<str:month>", statements.SiteMonth.as_view(), name="site-month"),
    path(
        "sites/<uuid:id>/months/<str:month>/lines",
        statements.SiteMonthLines.as_view(),
        name="site-month-lines",
    ),
    path(
        "sites/<uuid:id>/months/<str:month>/closing",
        statements.SiteMonthClosing.as_view(),
        name="site-month-closing",
    ),
    path("verifications", verification.Verifications.as_view(), name="verifications"),
    path("verifications/<uuid:id>", verification.Verification.as_view(), name="verification"),
    path("escalations", clocks.Escalations.as_view(), name="escalations"),
    path("escalations/<uuid:id>/take", clocks.EscalationTake.as_view(), name="escalation-take"),
    path("notices", inbox.Notices.as_view(), name="notices"),
    path("notices/<uuid:id>", inbox.Notice.as_view(), name="notice"),
    path("notices/<uuid:id>/seen", inbox.NoticeSeen.as_view(), name="notice-seen"),
    path("notices/<uuid:id>/take", inbox.NoticeTake.as_view(), name="notice-take"),
    path("sites/<uuid:id>/notice-preference", inbox.NoticePreference.as_view(), name="notice-preference"),
    path("mails", inbox.Mails.as_view(), name="mails"),
    path("mails/<uuid:id>/retry", inbox.MailRetry.as_view(), name="mail-retry"),
    path("calendar-feeds", feeds.CalendarFeeds.as_view(), name="calendar-feeds"),
    path("calendar-feeds/<uuid:id>", feeds.CalendarFeed.as_view(), name="calendar-feed"),
    path(
        "calendar-feeds/<uuid:id>/revocation",
        feeds.CalendarFeedRevocation.as_view(),
        name="calendar-feed-revocation",
    ),
    path(
        "calendar-feeds/<uuid:id>/rotation",
        feeds.CalendarFeedRotation.as_view(),
        name="calendar-feed-rotation",
    ),
]

page_urlpatterns: list[URLPattern | URLResolver] = [
    path("", base.FirstPage.as_view(), name="desk"),
    path("sites/<path:code>/findings/", findings.Findings.as_view(), name="desk_findings"),
    path("sites/<path:code>/orders/", order_pages.Orders.as_view(), name="desk_orders"),
    path("sites/<path:code>/surveys/", surveys.Surveys.as_view(), name="desk_surveys"),
    path("sites/<path:code>/seams/", seams.Seams.as_view(), name="desk_seams"),
    path("sites/<path:code>/months.csv", desk.MonthsCsv.as_view(), name="desk_months_csv"),
    path("sites/<path:code>/months/", months.Months.as_view(), name="desk_months"),
    path("sites/<path:code>/months/<str:month>/", months.Month.as_view(), name="desk_month"),
    path("sites/<path:code>/inbox/seen/", inbox_pages.InboxSeen.as_view(), name="desk_inbox_seen"),
    path("sites/<path:code>/inbox/wishes/", inbox_pages.InboxWishes.as_view(), name="desk_inbox_wishes"),
    path("sites/<path:code>/inbox/calendars/", inbox_pages.Calendars.as_view(), name="desk_calendars"),
    path("sites/<path:code>/inbox/", inbox_pages.Inbox.as_view(), name="desk_inbox"),
    path("sites/<path:code>/jobs/", jobs.Jobs.as_view(), name="desk_jobs"),
    path("parked/<uuid:id>/taken-up/", jobs.ParkedTakenUp.as_view(), name="desk_parked_taken_up"),
    path("sites/<path:code>/", desk.SiteDesk.as_view(), name="site_desk"),
    path("findings/<uuid:id>/", finding.Finding.as_view(), name="desk_finding"),
    path("findings/<uuid:id>/acts/<str:name>/", finding.FindingAct.as_view(), name="desk_finding_act"),
    path(
        "findings/<uuid:id>/recordings/",
        recordings.FindingRecordings.as_view(),
        name="desk_finding_recordings",
    ),
    path("orders/<uuid:id>/", order_pages.Order.as_view(), name="desk_order"),
    path("orders/<uuid:id>/moves/<str:name>/", order_pages.OrderMove.as_view(), name="desk_order_move"),
    path(
        "deferrals/<uuid:id>/<str:answer>/",
        notices.DeferralAnswer.as_view(),
        name="desk_deferral_answer",
    ),
    path(
        "escalations/<uuid:id>/taken/",
        notices.EscalationTaken.as_view(),
        name="desk_escalation_taken",
    ),
    path("seams/<uuid:id>/walk/", seams.SeamWalkBegin.as_view(), name="desk_seam_begin"),
    path("seam-walks/<uuid:id>/", seams.SeamWalk.as_view(), name="desk_seam_walk"),
    path("seam-walks/<uuid:id>/places/", seams.SeamWalkPlace.as_view(), name="desk_seam_walk_place"),
    path("seam-walks/<uuid:id>/finish/", seams.SeamWalkFinish.as_view(), name="desk_seam_walk_finish"),
    path("notices/<uuid:id>/<str:answer>/", inbox_pages.NoticeAnswer.as_view(), name="desk_notice_answer"),
    path(
        "calendars/<uuid:id>/<str:answer>/",
        inbox_pages.CalendarAnswer.as_view(),
        name="desk_calendar_answer",
    ),
    path("surveys/<uuid:id>/", surveys.Survey.as_view(), name="desk_survey"),
]

# Read by programs that hold a secret address in place of a log-in.
file_urlpatterns: list[URLPattern | URLResolver] = [
    path("calendar/<str:token>.ics", calendar_file, name="calendar-file"),
]
