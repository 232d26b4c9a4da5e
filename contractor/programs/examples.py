"""The keys that the examples of the API's description use. Invented; the suite runs them all."""

from uuid import UUID

#: The firm of the examples.
FIRM = "tarnbeck"
_NAMES = (
    *("customer_id", "contact_id", "building_id", "area_id", "system_id", "product_id"),
    *("device_id", "instrument_id", "agreement_id", "visit_id", "planned_id", "handed_in_id"),
    *("signed_off_id", "finding_id", "impairment_id", "intake_id", "row_id", "accepted_id"),
    *("due_id", "alarm_id", "statement_id", "test_id", "battery_id", "notice_id", "settled_id"),
    *("record_id", "report_id", "question_id", "member_id", "entry_id", "first_entry_id"),
    *("second_entry_id", "retired_id", "reviewed_id", "second_device_id", "colleague_id"),
    *("rule_id", "change_id", "done_id", "line_id", "label_id", "disputed_label_id", "run_id"),
    *("tablet_id", "review_id", "invitation_id", "licence_id", "feed_id", "telling_id"),
    *("bundle_id", "outlook_id", "job_id"),
)
#: Each thing that an example names, by its name in addresses.
KEYS = {name: UUID(int=0x019AB5C07000_7000_8000_000000000000 + n) for n, name in enumerate(_NAMES)}


def key(name: str) -> str:
    """Give the key of one thing of the examples."""
    return str(KEYS[name])
