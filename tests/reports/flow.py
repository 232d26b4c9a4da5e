"""Make a signed visit through the services, as people would."""

from datetime import timedelta

from contractor.tenancy.models import FirmProfile, Job
from contractor.visits import services
from contractor.visits.cautions import list_cautions
from contractor.visits.models import SealedRecord
from tests import factories


def sign_visit(*, building, office, technician, now, devices=3) -> SealedRecord:
    """Test some new detectors of a building: the first passes, the last is not tested."""
    FirmProfile.objects.update(
        address="3 Cooperage Lane, Port Ellory", telephone="555 0100", paper="a4"
    )
    system = factories.SystemFactory(building=building, name=f"System {now:%H%M%S%f}")
    area = factories.AreaFactory(building=building, name=f"Zone {now:%d%H%M}")
    made = [factories.DeviceFactory(system=system, area=area) for _ in range(devices)]
    visit = services.plan_visit(
        building=building,
        planned_on=now.date(),
        tasks=["functional", "sensitivity"],
        member_ids=[technician.pk],
        member=office,
        now=now - timedelta(hours=3),
        device_ids=[device.pk for device in made],
        purpose="Annual test",
        frequency="annual",
    )
    services.begin_visit(
        visit=visit,
        notified_before="Station told at 7:42",
        cautions=list_cautions(building=building),
        member=technician,
        now=now - timedelta(hours=2),
    )
    for device in made[:-1]:
        services.record_result(
            visit=visit,
            device=device,
            task="functional",
            result="pass",
            member=technician,
            now=now - timedelta(hours=1),
        )
        services.record_sensitivity(
            visit=visit,
            device=device,
            member=technician,
            now=now - timedelta(hours=1),
            said={"drift": "0.40"},
            method="control_unit",
        )
    services.hand_in(
        visit=visit,
        notified_after="Station told at 15:20",
        reason_for_rest="Paint store locked",
        member=technician,
        now=now - timedelta(minutes=30),
    )
    visit.refresh_from_db()
    return services.sign_off(visit=visit, member=office, now=now)


def job_of(record: SealedRecord) -> Job:
    """The job that sign-off queued for its report."""
    return Job.objects.get(key=f"report:{record.pk}")
