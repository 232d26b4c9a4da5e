"""Public pages that restate what a code asks, and how far each can be trusted.

Grade A: a regulator, an accreditor, a standards body or NIST. B: trade press by people of the
code committees, training bodies. C: a contractor's page, a study guide, a forum, a reposted text.
None of them is the code: check against a licensed copy before relying on a rule.
"""

from collections.abc import Mapping
from typing import Literal, NamedTuple


class Source(NamedTuple):
    grade: Literal["A", "B", "C"]
    title: str
    address: str


SOURCES: Mapping[str, Source] = {
    "survey_2024": Source(
        "A",
        "Federal survey report, Boise, 2024, restating NFPA 72-2010",
        "http://www.hospitalinspections.org/report-detail/BX7U21",
    ),
    "survey_2013": Source(
        "A",
        "Federal survey report, 2013, restating NFPA 72-1999",
        "http://www.hospitalinspections.org/report-detail/9E6722",
    ),
    "phillips": Source(
        "B",
        "D. Phillips, Are your smoke detectors out of range?",
        "https://dustinphillipsconsulting.substack.com/p/are-your-smoke-detectors-out-of-range",
    ),
    "detector_maintenance": Source(
        "C",
        "Building Toolkit, Smoke detector maintenance",
        "https://www.buildingtoolkit.org/safety/maintenance/",
    ),
    "keyes_frequencies": Source(
        "B",
        "Keyes Life Safety, Fire alarm testing frequencies",
        "https://keyeslifesafety.com/category/fire-detection-systems/",
    ),
    "keyes_sensitivity": Source(
        "B",
        "Keyes Life Safety, Smoke detector sensitivity",
        "https://keyeslifesafety.com/asc-smoke-detector-sensitivity/",
    ),
    "keyes_duct": Source(
        "B",
        "Keyes Life Safety, Duct detector test",
        "http://keyeslifesafety.com/category/fire-detection-systems/testing-fire-detection-systems/",
    ),
    "aerosol_page": Source(
        "C",
        "Contractor's page, Fire alarm systems inspections",
        "https://completefire.com/services/inspections/fire-alarm-systems-inspections/",
    ),
    "frequency_blog": Source(
        "C",
        "Training blog, NFPA 72 testing frequency",
        "https://nttinc.com/blog/nfpa-72-testing-frequency/",
    ),
    "heat_lab": Source(
        "A",
        "UL Solutions, Testing service for heat detectors",
        "https://ul.com/services/testing-service-heat-detectors",
    ),
    "visual_2013": Source(
        "C",
        "NFPA 72-2013 Table 14.3.1, reposted pages",
        "https://scribd.com/document/486626929/2015-National-Fire-Code-Set-Inspection-pdf",
    ),
    "test_2007": Source(
        "C",
        "Reposted table of testing frequencies (2007)",
        "http://asfirepro.com/Aware_files/ATestFrq.htm",
    ),
    "visual_2022": Source(
        "C",
        "Study guide, Inspection and testing distinctions (2022)",
        "https://open-exam-prep.com/study-guides/nicet-fire-alarm/inspection-testing-maintenance-and-impairments/inspection-testing-and-maintenance-distinctions",
    ),
    "battery_2019": Source(
        "B",
        "National Training Center, Battery testing since 2019",
        "https://nationaltrainingcenter.com/?p=199850",
    ),
    "battery_capacity": Source(
        "C",
        "Fire alarm forum, When to replace batteries",
        "https://forum.firealarm.com/community/tech-support/when-should-i-replace-my-batteries/",
    ),
    "battery_math": Source(
        "B",
        "Electrical Contractor, Fire alarm math you should know",
        "https://www.ecmag.com/magazine/articles/article-detail/integrated-systems-calculation-crunching-fire-alarm-math-you-should-know",
    ),
    "battery_margin": Source(
        "C",
        "Increased battery capacity safety factor",
        "https://www.actmeters.com/2023/05/18/increased-nfpa-72-battery-capacity-safety-factor/",
    ),
    "battery_2022": Source(
        "B",
        "Dispatch, summer 2023, The 2022 edition of NFPA 72",
        "https://issuu.com/csaainternational/docs/summer23dispatch_links/s/28070605",
    ),
    "battery_guide": Source(
        "C",
        "Study guide, Battery sizing and secondary power",
        "https://open-exam-prep.com/study-guides/nicet-fire-alarm/power-supplies-circuits-loading-and-calculations/battery-sizing-and-secondary-power",
    ),
    "ashe_duration": Source(
        "A",
        "ASHE, Incorrect duration",
        "http://www.ashe.org/compliance/ec_02_03_05/04_incorrect-duration.shtml",
    ),
    "reacceptance_2013": Source(
        "C",
        "Building code forum, restating NFPA 72-2013 14.4.2",
        "https://thebuildingcodeforum.com",
    ),
    "reacceptance_2002": Source(
        "B",
        "Re-acceptance testing, NFPA 72-2002, restated",
        "http://testedgroup.com/node/31",
    ),
    "unsafe_nyc": Source(
        "C",
        "Study guide restating New York City FC 907.20",
        "http://grafana.stuvia.com/doc/7634523/s98-study-guide-part-5-exam-20252026-questions-with-verified-solutions.",
    ),
    "heat_sample": Source(
        "C",
        "Exam guide, Heat detector test interval",
        "https://nfpa-72nationalfirealarmandsignalingcode.examzify.com/question/how-frequently-must-heat-detectors-2ebb262b5489fcb1",
    ),
    "alarm_life": Source(
        "B",
        "Kirschenbaum newsletter 2011, Smoke detectors and alarms",
        "https://www.kirschenbaumesq.com/article/follow-up-on-smoke-detectors-important-comments",
    ),
    "supervisory": Source(
        "B",
        "HCPro, Supervisory devices checklist",
        "https://studylib.net/doc/7668546/here---hcpro",
    ),
    "co_2009": Source(
        "C",
        "Code extracts, CO detector testing (NFPA 720-2009)",
        "https://www.hsifiresafety.com/resources/code-requirements/",
    ),
    "flame": Source(
        "C",
        "Contractor's article, Semiannual tasks",
        "http://www.cintas.com/fire-protection-services/articles/testing-1-2-3/",
    ),
    "changes_2025": Source(
        "B",
        "Security Sales & Integration, Inside the 2025 NFPA 72, part 6",
        "https://www.securitysales.com/insights/fireside-chat-inside-2025-nfpa-72-part-6/614486/",
    ),
    "alarm_button": Source(
        "C",
        "Approved ways to test a smoke alarm",
        "https://greenyplace.com/what-is-the-only-approved-way-to-test-a-smoke-detector",
    ),
    "interfaces_2013": Source(
        "B",
        "SecurityInfoWatch, Proposed changes to NFPA 72-2013",
        "http://www.securityinfowatch.com/article/10719990/fire-life-safety-proposed-changes-to-nfpa-72-2013?page=2",
    ),
    "battery_2007": Source(
        "C",
        "Tec Trek, Backup for the backup (restating the table of 2007)",
        "https://tectrek.org/backup-for-the-backup.html",
    ),
    "battery_label": Source(
        "C",
        "Notable changes in NFPA 72-2022, chapters 7 and 10",
        "https://firetechno.org/battery-calculation-for-fire-alarm-system",
    ),
    "battery_storage": Source(
        "B",
        "Jensen Hughes Academy, Storage batteries and charging",
        "https://academy.jensenhughes.com/jha4/core/crawler_content.php?cid=58&page=30.00",
    ),
    "visual_page": Source(
        "C",
        "Contractor's guide, NFPA 72 inspection",
        "https://majorsfiresecurity.com/blog/nfpa-72-inspection-requirements-guide",
    ),
    "co_2012": Source(
        "C",
        "In-field testing by NFPA 720-2012",
        "http://qginc.com/content/field-testing-requirement-nfpa-720-2012-edition",
    ),
    "co_life": Source(
        "C",
        "CO detector basics",
        "https://cocoontech.com/threads/smoke-co-combo-unit.20262/post-165167",
    ),
    "alarm_combination": Source(
        "C",
        "Smoke and CO combination alarms, their life",
        "https://absolution.ca/blog/smoke-alarms-victoria-bc.html",
    ),
    "household_2013": Source(
        "C",
        "Do I need a fire alarm inspection (2013 household rule)",
        "https://northeastsecuritysolutions.com/do-i-need-a-fire-alarm-inspection/",
    ),
    "radio_district": Source(
        "A",
        "Fire district, Emergency responder radio coverage",
        "https://cjcfpd.org/emergency-responder-radio-coverage/",
    ),
    "radio_testing": Source(
        "C",
        "What is radio enhancement testing",
        "https://legalclarity.org/what-is-errcs-testing-requirements-methods-and-costs/",
    ),
    "elevator_code": Source(
        "A",
        "Elevator code, Firefighters' emergency operation",
        "https://up.codes/s/firefighters-emergency-operation",
    ),
    "audibility": Source(
        "B",
        "Electrical Contractor, Proper audibility level",
        "https://www.ecmag.com/magazine/articles/article-detail/proper-audibility-level-how-to-determine-fire-alarm-volume-before-the-building-is-built",
    ),
    "sleeping_sound": Source(
        "B",
        "Building code forum, Sleeping area sound levels",
        "https://www.thebuildingcodeforum.com/forum/threads/what-are-the-sound-level-requirements-for-audible-appliances-in-sleeping-areas-according-to-nfpa-72.36216",
    ),
    "low_frequency": Source(
        "A",
        "NFPA Journal, In compliance: NFPA 72 (low frequency)",
        "http://web.archive.org/web/20161026100437/http://www.nfpa.org/news-and-research/publications/nfpa-journal/2015/january-february-2015/in-compliance/nfpa-72",
    ),
    "five_things": Source(
        "C",
        "Fire & Life Safety America, Five things about test and inspection",
        "https://flsamerica.com/blog/top-5-things-know-test-inspection-fire-alarm-systems/",
    ),
    "silent_2010": Source(
        "C",
        "NFPA 72-2010 A.14.4.2, restated",
        "https://1library.net/article/testing-conducted-silent-testing-bypassing-emergency-control-functions.qvl05640",
    ),
    "chronic_nfpa1": Source(
        "A",
        "Fire department form quoting NFPA 1",
        "https://form.jotform.com/250716067089058",
    ),
    "alberta_s536": Source(
        "A",
        "Alberta, Smoke detector sensitivity testing (S536-04)",
        "https://manualzz.com/doc/27412771/smoke-detector-sensitivity-testing",
    ),
    "s536_2024": Source(
        "A",
        "CAN/ULC 536:2024, preface",
        "https://www.orderline.com/can-ulc-536-2024-standard-for-inspection-and-testing-of-fire-alarm-systems",
    ),
    "s536_guide": Source(
        "C",
        "Guide to CAN/ULC-S536",
        "https://codebookcarl.ca/guides/ulc-s536",
    ),
    "iet_2025": Source(
        "A",
        "IET Wiring Matters, BS 5839-1:2025 part 2",
        "https://electrical.theiet.org/wiring-matters/years/2025/108-november-2025/key-changes-to-bs-5839-12025-part-2",
    ),
    "bs_2017": Source(
        "C",
        "BS 5839-1:2017 clause 45.3, restated",
        "https://www.firepoint.org.uk/test-2",
    ),
    "bs_false_alarms": Source(
        "B",
        "LWF, Fire alarm systems and false alarms, part 18",
        "https://www.lwf.co.uk/blog/facilities-management/facilities-management-fire-alarm-systems-and-false-alarms-part-18/",
    ),
    "bs_service": Source(
        "C",
        "Six monthly inspection and system test (BS 5839-1)",
        "http://www.fireriskassessmentuk.org.uk/services/fire-alarm-maintenance/six-monthly-inspection-system-test/",
    ),
    "bs_standby": Source(
        "C",
        "UK inspection and servicing page",
        "https://cfs-systems.co.uk/?p=226",
    ),
    "iosh_weekly": Source(
        "C",
        "IOSH forum, Weekly routine",
        "https://forum.iosh.co.uk/posts/t129708-Smoke-Point-Detection",
    ),
    "texas_yellow": Source(
        "A",
        "Texas 28 TAC 34.623, yellow labels",
        "https://texreg.sos.state.tx.us/public/readtac$ext.TacPage?sl=R&app=9&p_dir=&p_rloc=&p_tloc=&p_ploc=&pg=1&p_tac=&ti=28&pt=1&ch=34&rl=623",
    ),
    "texas_red": Source(
        "A",
        "Texas 28 TAC 34.624, red labels",
        "https://texreg.sos.state.tx.us/public/readtac$ext.TacPage?sl=R&app=9&p_dir=&p_rloc=&p_tloc=&p_ploc=&pg=1&p_tac=&ti=28&pt=1&ch=34&rl=624",
    ),
    "florida_completion": Source(
        "A",
        "Florida 69A-48.005, record of completion",
        "https://print.casetext.com/regulation/florida-administrative-code/department-69-department-of-financial-services/division-69a-division-of-state-fire-marshal/chapter-69a-48-fire-safety-standards-for-fire-alarm-systems/section-69a-48005-record-of-completion",
    ),
    "impairments_2007": Source(
        "B",
        "Electrical Contractor, Understanding impairments",
        "https://www.ecmag.com/magazine/articles/article-detail/systems-understanding-impairments",
    ),
    "impairments_law": Source(
        "B",
        "Newsletter on alarm law, Impaired systems, restating NFPA 72-2016",
        "https://kirschenbaumesq.com/article/comment-on-subscriber-ignoring-fire-alarm-trouble-signals-september-14-2021",
    ),
}  # fmt: skip
