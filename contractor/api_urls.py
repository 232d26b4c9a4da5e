"""Every address of the API, version 1, under /api/v1/f/<firm>/."""

from django.urls import path

from contractor.agreements import api as agreements
from contractor.alarms import api as alarms
from contractor.drift import api as drift
from contractor.due import api as due
from contractor.field import api as field
from contractor.findings import api as findings
from contractor.labels import api as labels
from contractor.notices import api as notices
from contractor.owners import api as owners
from contractor.people import api as people
from contractor.planning import api as planning
from contractor.power import api as power
from contractor.programs import api as programs
from contractor.programs.resource import Resource
from contractor.readings import api as readings
from contractor.register import api as register
from contractor.reports import api as reports
from contractor.search import api as search
from contractor.visits import api as visits

_CUSTOMER = "customers/<uuid:customer_id>/"
_BUILDING = "buildings/<uuid:building_id>/"
_DEVICE = "devices/<uuid:device_id>/"
_FINDING = "findings/<uuid:finding_id>/"
_INTAKE = "print-outs/<uuid:intake_id>/"
_VISIT = "visits/<uuid:visit_id>/"
_ON_VISIT = f"{_VISIT}devices/<uuid:device_id>/"
_INSTRUMENT = "instruments/<uuid:instrument_id>/"
_MEMBER = "members/<uuid:member_id>/"
_LABEL = "labels/<uuid:label_id>/"
_TABLET = "tablets/<uuid:tablet_id>/"
_ALARM = "alarms/<uuid:alarm_id>/"

ADDRESSES: dict[str, type[Resource]] = {
    "": programs.ThisFirm,
    "members/": programs.Members,
    "profile/": people.Profile,
    "licences/": people.FirmLicences,
    "licences/<uuid:licence_id>/": people.Licence,
    "licences/<uuid:licence_id>/end/": people.LicenceEnded,
    "invitations/": people.Invitations,
    "invitations/<uuid:invitation_id>/cancel/": people.InvitationCancelled,
    _MEMBER: people.Person,
    f"{_MEMBER}leave/": people.SeatEnd,
    f"{_MEMBER}licences/": people.PersonLicences,
    "jobs/<uuid:job_id>/": reports.OneJob,
    "audit/": programs.Audit,
    "customers/": register.Customers,
    _CUSTOMER: register.Customer,
    f"{_CUSTOMER}contacts/": register.Contacts,
    f"{_CUSTOMER}agreements/": agreements.CustomerAgreements,
    "contacts/<uuid:contact_id>/": register.Contact,
    "contacts/<uuid:contact_id>/left/": register.ContactLeft,
    "agreements/": agreements.Agreements,
    "agreements/<uuid:agreement_id>/": agreements.Agreement,
    "buildings/": register.Buildings,
    _BUILDING: register.Building,
    f"{_BUILDING}areas/": register.Areas,
    f"{_BUILDING}systems/": register.Systems,
    f"{_BUILDING}devices/": register.Devices,
    f"{_BUILDING}findings/": findings.BuildingFindings,
    f"{_BUILDING}print-outs/": readings.BuildingIntakes,
    f"{_BUILDING}visits/": visits.BuildingVisits,
    f"{_BUILDING}due/": due.BuildingDue,
    f"{_BUILDING}done/": due.BuildingDone,
    f"{_BUILDING}alarms/": alarms.Alarms,
    f"{_BUILDING}alarms/none/": alarms.Nones,
    f"{_BUILDING}batteries/": power.BuildingBatteries,
    f"{_BUILDING}cleaning/": drift.Cleaning,
    f"{_BUILDING}log-lines/": visits.LogLines,
    f"{_BUILDING}label-runs/": labels.BuildingRuns,
    f"{_BUILDING}place/": planning.BuildingPlace,
    f"{_BUILDING}tellings/": planning.Tellings,
    f"{_BUILDING}bundles/": reports.Bundles,
    f"{_BUILDING}bundles/<uuid:bundle_id>/zip/": reports.BundleFile,
    f"{_BUILDING}printed-outlooks/": reports.PrintedOutlooks,
    "log-lines/<uuid:line_id>/alarm/": visits.LineAsAlarm,
    "log-lines/<uuid:line_id>/aside/": visits.LineAside,
    "done/<uuid:done_id>/withdraw/": due.DoneWithdrawn,
    "local-rules/": due.LocalRules,
    "local-rules/preview/": due.LocalRulePreview,
    "local-rules/<uuid:rule_id>/end/": due.LocalRuleEnded,
    "edition-changes/": due.EditionChanges,
    "edition-changes/preview/": due.EditionPreview,
    "edition-changes/<uuid:change_id>/withdraw/": due.EditionChangeWithdrawn,
    "labels/": labels.FoundLabels,
    _LABEL: labels.OneLabel,
    f"{_LABEL}off/": labels.LabelOff,
    f"{_LABEL}retire/": labels.LabelRetired,
    f"{_LABEL}settle/": labels.LabelSettled,
    "label-runs/<uuid:run_id>/again/": labels.RunAgain,
    "label-runs/<uuid:run_id>/pdf/": labels.RunPdf,
    "tellings/<uuid:telling_id>/end/": planning.TellingEnded,
    "calendars/": planning.Calendars,
    "calendars/<uuid:feed_id>/revoke/": planning.CalendarRevoked,
    "owners/links/": owners.OwnerLinks,
    "owners/decisions/": owners.OwnerDecisions,
    "tablets/": field.Tablets,
    _TABLET: field.Tablet,
    f"{_TABLET}revoke/": field.TabletRevoked,
    "waiting-entries/": field.WaitingEntries,
    "waiting-entries/<uuid:review_id>/decide/": field.EntryDecided,
    "devices/": search.FoundDevices,
    _DEVICE: register.Device,
    f"{_DEVICE}labels/": labels.DeviceLabels,
    f"{_DEVICE}readings/": readings.DeviceReadings,
    f"{_DEVICE}due/": due.DeviceDue,
    f"{_DEVICE}battery/": power.Battery,
    f"{_DEVICE}battery/tests/": power.BatteryTests,
    "products/": register.Products,
    "products/<uuid:product_id>/": register.Product,
    "instruments/": register.Instruments,
    _INSTRUMENT: register.Instrument,
    f"{_INSTRUMENT}out-of-use/": register.InstrumentRetired,
    f"{_INSTRUMENT}in-use/": register.InstrumentReturned,
    "systems/<uuid:system_id>/print-outs/": readings.SystemIntakes,
    "systems/<uuid:system_id>/software/": due.SoftwareChanges,
    "systems/<uuid:system_id>/software/preview/": due.SoftwarePreview,
    "print-outs/": readings.WaitingIntakes,
    _INTAKE: readings.OneIntake,
    f"{_INTAKE}rows/": readings.IntakeRows,
    f"{_INTAKE}rows/<uuid:row_id>/": readings.OneIntakeRow,
    f"{_INTAKE}meanings/": readings.IntakeMeanings,
    f"{_INTAKE}accept/": readings.IntakeAccepted,
    f"{_INTAKE}aside/": readings.IntakeAside,
    f"{_INTAKE}undo/": readings.IntakeUndone,
    "findings/": findings.Findings,
    "findings/usual/": findings.Titles,
    _FINDING: findings.Finding,
    f"{_FINDING}steps/": findings.Steps,
    f"{_FINDING}told/": findings.OwnerTold,
    f"{_FINDING}notices/": findings.OwedNotices,
    f"{_FINDING}correct/": findings.Correction,
    f"{_FINDING}outage/": findings.Outage,
    f"{_FINDING}rounds/": findings.Rounds,
    f"{_FINDING}back/": findings.BackInService,
    _ALARM: alarms.Alarm,
    f"{_ALARM}correct/": alarms.AlarmCorrection,
    f"{_ALARM}withdraw/": alarms.AlarmWithdrawal,
    "alarms/none/<uuid:statement_id>/withdraw/": alarms.NoneWithdrawal,
    "batteries/": power.Batteries,
    "batteries/tests/<uuid:test_id>/withdraw/": power.BatteryTestWithdrawal,
    "due/<uuid:due_id>/": due.OneDue,
    "visits/": visits.Visits,
    _VISIT: visits.Visit,
    f"{_VISIT}cancel/": visits.Cancellation,
    f"{_VISIT}begin/": visits.Beginning,
    f"{_VISIT}devices/": visits.VisitDevices,
    f"{_VISIT}entries/": visits.Entries,
    f"{_VISIT}notes/": visits.Notes,
    f"{_ON_VISIT}pass/": visits.Pass,
    f"{_ON_VISIT}fail/": visits.Fail,
    f"{_ON_VISIT}not-tested/": visits.NotTested,
    f"{_ON_VISIT}read/": visits.ReadDevice,
    f"{_ON_VISIT}clean/": visits.Cleaned,
    f"{_ON_VISIT}replace/": visits.Replaced,
    f"{_ON_VISIT}take-back/": visits.TakenBack,
    f"{_ON_VISIT}decide/": visits.Decision,
    f"{_VISIT}evidence/": visits.VisitEvidence,
    f"{_VISIT}hours/": planning.VisitHours,
    f"{_VISIT}told/": planning.VisitTold,
    f"{_VISIT}tablets/": field.VisitTablets,
    f"{_VISIT}tablets/<uuid:tablet_id>/excuse/": field.TabletExcused,
    f"{_VISIT}hand-in/": visits.HandedIn,
    f"{_VISIT}review/": visits.Reviewed,
    f"{_VISIT}send-back/": visits.SentBack,
    f"{_VISIT}sign-off/": visits.SignedOff,
    f"{_VISIT}records/": visits.Records,
    "drift/outlooks/": drift.Outlooks,
    "drift/policy/": drift.Policy,
    "drift/forecasts/": drift.Forecasts,
    "drift/questions/": drift.Questions,
    "drift/questions/<uuid:question_id>/": drift.QuestionAnswered,
    "notices/": notices.Notices,
    "notices/<uuid:notice_id>/": notices.Notice,
    "notices/<uuid:notice_id>/resend/": notices.NoticeResent,
    "notices/<uuid:notice_id>/settle/": notices.NoticeSettled,
    "reports/records/": reports.Records,
    "reports/records/<uuid:record_id>/": reports.Record,
    "reports/records/<uuid:record_id>/render/": reports.Rendered,
    "reports/<uuid:report_id>/pdf/": reports.Report,
    "printed-outlooks/<uuid:outlook_id>/pdf/": reports.OutlookPdf,
}

app_name = "api"
urlpatterns = [
    path(address, resource.as_view(), name=f"{resource.__name__}_{number}")
    for number, (address, resource) in enumerate(ADDRESSES.items())
]
